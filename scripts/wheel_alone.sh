# A wheel by itself in a clean environment with the locked dependencies: does it start, and does it give real advice?
# Usage: sh scripts/wheel_alone.sh PYTHON
set -eu
python=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$python" -m build --quiet --wheel --no-isolation --outdir "$work" .
"$python" -m venv "$work/venv"
UV_PYTHON_DOWNLOADS=never "$(dirname "$python")/uv" pip install --quiet --python "$work/venv/bin/python" --require-hashes -r requirements.lock
"$work/venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps "$work"/underglass-*.whl
cd "$work"
venv/bin/underglass --help >help.txt
grep -q sow help.txt
venv/bin/underglass sow --demo --years 5 --json --no-cache >guide.json
venv/bin/python -c 'import json; guide = json.load(open("guide.json")); assert guide["rows"], "the guide is empty"'
echo "the wheel alone starts and advises"
