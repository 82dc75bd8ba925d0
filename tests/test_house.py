"""The house keeps its own rules: locks, asserts, lengths, lazy imports, documented names."""

from __future__ import annotations

import ast
import dataclasses
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted((ROOT / "src").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("test_*.py"))
LONGEST_FILE = 600
COMPARERS = {
    "allclose",
    "isclose",
    "array_equal",
    "approx",
    "all",
    "any",
    "isfinite",
    "startswith",
    "endswith",
    "issubset",
}


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    return [ROOT / line for line in listed.stdout.splitlines()] if listed.returncode == 0 else []


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_locks_hold_hashes_and_no_address(lock: str) -> None:
    text = (ROOT / lock).read_text()
    assert "://" not in text
    assert text.count("--hash=sha256:") > 50


def test_no_path_of_a_machine_is_committed() -> None:
    pattern = re.compile(r"(^|[^\w.])/(" + "|".join(("work", "root", "farm")) + r")/")
    for path in tracked():
        if (
            path.suffix in (".py", ".md", ".toml", ".csv", ".sh", "")
            and path.is_file()
            and path.name not in ("LICENSE",)
        ):
            for number, line in enumerate(path.read_text(encoding="utf-8", errors="ignore").splitlines(), 1):
                assert not pattern.search(line), f"{path}:{number}"


@pytest.mark.parametrize("path", SOURCES + TESTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_stay_readable(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


@pytest.mark.parametrize("path", TESTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_comparison_is_asserted(path: Path) -> None:
    """A bare comparison, or a call of a comparing function as a statement, asserts nothing."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Expr):
            assert not isinstance(node.value, ast.Compare), f"{path}:{node.lineno}"
            call = node.value.func if isinstance(node.value, ast.Call) else None
            name = getattr(call, "attr", getattr(call, "id", ""))
            assert name not in COMPARERS, f"{path}:{node.lineno} {name} is not asserted"
        if isinstance(node, ast.Assert):
            always = (ast.Constant, ast.Tuple, ast.JoinedStr, ast.Lambda)
            assert not isinstance(node.test, always), f"{path}:{node.lineno} asserts what is always so"


@pytest.mark.parametrize("path", TESTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_test_can_fail(path: Path) -> None:
    """Each test function holds an assert, expects an error, or calls a helper that does."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    helpers = {
        f.name
        for f in ast.walk(tree)
        if isinstance(f, ast.FunctionDef) and any(isinstance(n, ast.Assert) for n in ast.walk(f))
    }
    for f in ast.walk(tree):
        if isinstance(f, ast.FunctionDef) and f.name.startswith("test_"):
            names = {getattr(n.func, "attr", getattr(n.func, "id", "")) for n in ast.walk(f) if isinstance(n, ast.Call)}
            expected = {"raises", "fail", "to_have_text", "to_be_visible"}  # the last two of the browser
            can_fail = any(isinstance(n, ast.Assert) for n in ast.walk(f)) or names & (helpers | expected)
            assert can_fail, f"{path}:{f.lineno} {f.name} cannot fail"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_public_functions_say_what_they_do(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{path}:{node.lineno} {node.name}"


def run(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout


HEAVY = "{'numba', 'pandas', 'pvlib', 'scipy', 'typst', 'httpx'}"


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert run(f"import sys, underglass; print(sorted({HEAVY} & set(sys.modules)))").strip() == "[]"


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom underglass.faces.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print(sorted({HEAVY} & set(sys.modules)))"
    )
    assert run(code).strip().endswith("[]")


def test_the_plan_of_the_day_loads_no_slow_libraries() -> None:
    """A family waits two seconds at most; each of these takes a half to one."""
    slow = "{'pandas', 'pvlib', 'scipy.linalg', 'scipy.optimize', 'typst', 'httpx', 'highspy'}"
    code = (
        "import sys\nfrom underglass.faces.cli.main import main\n"
        "try:\n    main(['today', '--demo', '--forecast', 'climate', '--days', '1'])\nexcept SystemExit:\n    pass\n"
        f"print(sorted({slow} & set(sys.modules)))"
    )
    assert run(code).strip().endswith("[]")


def value_types() -> list[type]:
    from underglass.crop import types as crop_types
    from underglass.notebook import records
    from underglass.place.place import Horizon, Place
    from underglass.plan import household, outlook_types, wishes
    from underglass.shelter import model, tune_types
    from underglass.shelter.inside import InsideWeather
    from underglass.weather.normals import ClimateNormals
    from underglass.weather.outside import OutsideWeather, Provenance

    found: list[type] = [Horizon, Place, OutsideWeather, Provenance, InsideWeather, ClimateNormals]
    for module in (model, tune_types, crop_types, outlook_types, household, wishes, records):
        found += [
            c
            for c in vars(module).values()
            if isinstance(c, type) and dataclasses.is_dataclass(c) and c.__module__ == module.__name__
        ]
    return found


def test_every_quantity_has_its_place_in_the_nomenclature() -> None:
    """One name, one unit, one meaning: docs/nomenclature.md lists every field of every value type."""
    text = (ROOT / "docs" / "nomenclature.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"`(\w+)`", text))
    missing = sorted(
        {f"{c.__name__}.{f.name}" for c in value_types() for f in dataclasses.fields(c) if f.name not in listed}
    )
    assert not missing, f"add to docs/nomenclature.md: {', '.join(missing)}"


def test_every_key_of_a_shelter_file_is_explained() -> None:
    from underglass.shelter.schema import KEYS

    text = (ROOT / "docs" / "shelter-files.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"`(\w+)`", text))
    keys = {key for table in KEYS.values() for key in table}
    assert not keys - listed, f"explain in docs/shelter-files.md: {', '.join(sorted(keys - listed))}"


def test_every_key_of_a_household_file_is_explained() -> None:
    from underglass.sources.household_file import KEYS

    text = (ROOT / "docs" / "household-file.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"`(\w+)`", text))
    keys = {key for table in KEYS.values() for key in table}
    assert not keys - listed, f"explain in docs/household-file.md: {', '.join(sorted(keys - listed))}"


def test_every_command_and_option_is_documented() -> None:
    text = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    for path in sorted((ROOT / "src" / "underglass" / "faces" / "cli").glob("*.py")):
        for option in re.findall(r'typer\.Option\(\s*"(--[\w-]+)', path.read_text(encoding="utf-8")):
            assert option in text, f"{path.name}: {option}"


def test_csv_columns_are_documented() -> None:
    from underglass.faces.cli.sow import CSV_COLUMNS
    from underglass.faces.cli.year import YEAR_COLUMNS
    from underglass.services.inside import COLUMNS

    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8") + (ROOT / "docs" / "formats.md").read_text(
        encoding="utf-8"
    )
    for column in (*CSV_COLUMNS, *YEAR_COLUMNS, *COLUMNS):
        base = re.sub(r"_p(10|50|90)$", "", column)
        assert column in text or base in text, column
