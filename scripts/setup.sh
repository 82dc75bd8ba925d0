# Sourced by ./run and ./test.  set_up FOLDER LOCK: a virtual environment in FOLDER/.venv with what LOCK names, and underglass itself.
# A stamp of the lock is written last, so that an interrupted set-up starts again and a finished one costs nothing.

find_python() {
    for candidate in python3.13 python3.12 python3.11 python3 python; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            echo "$candidate"
            return 0
        fi
    done
    echo "underglass needs Python 3.11 or newer; none was found. Install it from python.org or your system's packages." >&2
    return 1
}

set_up() {
    folder=$1
    lock=$2
    venv=$folder/.venv
    stamp=$venv/set-up-with-$lock
    unset PYTHONDONTWRITEBYTECODE
    # the heavier lock serves the lighter start too
    for done_lock in "$lock" requirements-dev.lock; do
        if [ -f "$venv/set-up-with-$done_lock" ] && cmp -s "$folder/$done_lock" "$venv/set-up-with-$done_lock"; then
            return 0
        fi
    done
    python=$(find_python) || exit 1
    echo "Setting up in $venv (about 200 MB to download, once) ..." >&2
    [ -x "$venv/bin/python" ] || "$python" -m venv "$venv"
    uv_version=$(sed -n 's/^uv==//p' "$folder/scripts/uv-version")
    if "$venv/bin/python" -m pip install --quiet --disable-pip-version-check "uv==$uv_version" >/dev/null 2>&1 &&
        UV_PYTHON_DOWNLOADS=never "$venv/bin/uv" pip install --quiet --compile-bytecode --python "$venv/bin/python" \
            --require-hashes -r "$folder/$lock"; then
        :
    else
        echo "uv did not serve; using pip, which takes longer ..." >&2
        "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes -r "$folder/$lock"
    fi
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps --editable "$folder"
    echo "Compiling the physics for this machine, once ..." >&2
    "$venv/bin/python" -m underglass.services.warm >&2 || true
    cp "$folder/$lock" "$stamp"
}
