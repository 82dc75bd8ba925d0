"""`underglass tune` as a person meets it: a logger's file in, a corrected shelter out, kept and taken back."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from underglass.faces.cli.main import main
from underglass.shelter.presets import preset
from underglass.shelter.simulate import SPIN_UP_H, simulate
from underglass.shelter.tunable import apply_tuning
from underglass.sources.own_csv import write_hourly_csv
from underglass.sources.shelter_file import read_shelter
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid
from underglass.weather.outside import OutsideWeather


def ask(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    """Run the command in this process; exit code, stdout, stderr."""
    code = 0
    try:
        main(list(args))
    except SystemExit as stop:
        code = int(stop.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture(autouse=True)
def quiet_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("UNDERGLASS_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("UNDERGLASS_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Ten November days in a box twice as leaky as the preset, and the weather from a month before."""
    from underglass.sources.household_file import demo_household

    folder = tmp_path_factory.mktemp("tune")
    place = demo_household().place
    whole = generate_weather(from_grid(place), place, 2026, n_years=1, seed=3)
    outside: OutsideWeather = whole.part(24 * 280, 24 * 280 + SPIN_UP_H + 24 * 11)
    write_hourly_csv(outside, folder / "weather.csv")
    true = apply_tuning(preset("box"), {"leak_factor": 2.0, "light_factor": 0.8})
    air_f = (simulate(true, outside).air_temp_k.astype(float) - 273.15) * 1.8 + 32.0
    noise = np.random.default_rng(4).normal(0.0, 0.5, len(air_f))
    hours = range(SPIN_UP_H, SPIN_UP_H + 24 * 10)
    times = (outside.start + np.array(hours) - 5).astype("datetime64[m]").astype(str)
    rows = [f"{t.replace('T', ' ')};{air_f[h] + noise[h]:.1f}" for t, h in zip(times, hours, strict=True)]
    (folder / "log.csv").write_text("\n".join(["time, GMT-05:00;inside (°F)", *rows]) + "\n", encoding="utf-8")
    return folder / "log.csv", folder / "weather.csv"


def test_a_logger_corrects_a_box(capsys: pytest.CaptureFixture[str], files: tuple[Path, Path], tmp_path: Path) -> None:
    out = tmp_path / "tuned.toml"
    log, weather = (str(f) for f in files)
    code, said, fault = ask(
        capsys, "tune", "--demo", "--shelter", "box", "--readings", log, "--weather", weather, "--out", str(out)
    )
    assert code == 0, fault
    assert "240 rows, delimiter semicolon" in said
    assert "times are GMT-05:00, as the column says" in said
    assert "'inside (°F)': air, °F" in said
    assert "of the light described gets in" in said
    assert "Better on the days held back" in said
    assert read_shelter(out).airtightness.leak_area_m2 != preset("box").airtightness.leak_area_m2
    code, said, fault = ask(capsys, "inside", "--demo", "--shelter", str(out), "--weather", weather)
    assert code == 0, fault


def test_its_json_has_every_field_and_holds_the_truth(
    capsys: pytest.CaptureFixture[str], files: tuple[Path, Path]
) -> None:
    log, weather = (str(f) for f in files)
    code, said, _ = ask(capsys, "tune", "--demo", "--shelter", "box", "--readings", log, "--weather", weather, "--json")
    answer = json.loads(said)
    assert code == 0
    light = answer["estimates"]["light_factor"]
    assert light["told"]
    assert light["low"] <= 0.8 <= light["high"]
    assert answer["held_back"]["after"]["error_k"] < answer["held_back"]["before"]["error_k"]
    documented = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")
    for field in (*answer, *light, *answer["probes"][0], *answer["held_back"], *answer["held_back"]["after"]):
        assert f"`{field}`" in documented, field


def test_the_notebook_keeps_and_takes_back(capsys: pytest.CaptureFixture[str], files: tuple[Path, Path]) -> None:
    log, weather = (str(f) for f in files)
    assert ask(capsys, "note", "start", "--demo")[0] == 0
    tune = ("tune", "--shelter", "south box", "--readings", log, "--weather", weather)
    code, said, fault = ask(capsys, *tune, "--keep")
    assert code == 0, fault
    assert "kept: every command now takes the corrected south box" in said
    first = json.loads(ask(capsys, *tune, "--json")[1])["parameters"]
    again = json.loads(ask(capsys, *tune, "--json", "--keep")[1])["parameters"]
    assert first == again, "a shelter is tuned from its description, not from what was tuned before"
    assert "corrected as it was before again" in ask(capsys, "tune", "--undo", "--shelter", "south box")[1]
    assert "as it was described again" in ask(capsys, "tune", "--undo", "--shelter", "south box")[1]
    code, _, fault = ask(capsys, "tune", "--undo", "--shelter", "south box")
    assert (code, "not tuned" in fault) == (2, True)


def test_readings_that_do_not_fit_are_not_praised_and_not_kept(
    capsys: pytest.CaptureFixture[str], files: tuple[Path, Path], tmp_path: Path
) -> None:
    """The logger's Fahrenheit taken for Celsius, as somebody said so: thirty kelvin off."""
    wrong = tmp_path / "wrong.csv"
    wrong.write_text(files[0].read_text(encoding="utf-8").replace("(°F)", "(°C)"), encoding="utf-8")
    ask(capsys, "note", "start", "--demo")
    tune = ("tune", "--shelter", "south box", "--readings", str(wrong), "--weather", str(files[1]))
    code, said, fault = ask(capsys, *tune)
    assert code == 0, fault
    assert "The readings do not fit this shelter in this weather" in said
    assert "Better on the days held back" not in said
    code, said, fault = ask(capsys, *tune, "--keep")
    assert (code, "not kept: the readings do not fit" in fault) == (2, True)
    assert "not tuned" in ask(capsys, "tune", "--undo", "--shelter", "south box")[2]


def test_a_probe_outside_alone_is_no_praise(
    capsys: pytest.CaptureFixture[str], files: tuple[Path, Path], tmp_path: Path
) -> None:
    log = tmp_path / "out.csv"
    text = files[1].read_text(encoding="utf-8").splitlines()
    head = next(i for i, line in enumerate(text) if line.startswith("time"))
    column = text[head].split(",").index("air_c")
    rows = [line.split(",") for line in text[head + 1 :]][SPIN_UP_H : SPIN_UP_H + 24 * 10]
    log.write_text("time,outside °C\n" + "".join(f"{r[0]},{r[column]}\n" for r in rows), encoding="utf-8")
    _, said, fault = ask(
        capsys, "tune", "--demo", "--shelter", "box", "--readings", str(log), "--weather", str(files[1])
    )
    assert "The readings tell nothing of the shelter itself." in said, fault


def test_readings_noted_by_hand_need_no_file(capsys: pytest.CaptureFixture[str], files: tuple[Path, Path]) -> None:
    """A week of lowest and highest from `note read`, and a lid that was noted once."""
    weather = str(files[1])
    ask(capsys, "note", "start", "--demo")
    code, _, fault = ask(capsys, "tune", "--shelter", "south box", "--weather", weather)
    assert (code, "the notebook has no readings of the south box" in fault) == (2, True)
    for day in range(8, 15):
        when = f"2026-11-{day:02d} 07:15"
        read = ("note", "read", "south box", "--min", f"{24 + day % 3}F", "--max", f"{50 + day % 5}F", "--at", when)
        assert ask(capsys, *read)[0] == 0
    assert ask(capsys, "note", "lid", "south box", "5cm", "--at", "2026-11-10 12:00")[0] == 0
    code, said, fault = ask(capsys, "tune", "--shelter", "south box", "--weather", weather, "--keep")
    assert code == 0, fault
    assert "from the notebook: air: 7 lowest, 2026-11-08 to 2026-11-14" in said
    assert "Lids and covers as the notebook says" in said
    assert "To be surer, air (noted): it was not said whether the sun reaches it or how high it hangs." in said
    assert "the times are your own" in said
    assert "kept: every command now takes the corrected south box" in said


@pytest.mark.parametrize(
    ("args", "sentence"),
    [
        ((), "tune needs the readings: add --readings FILE"),
        (("--readings", "nowhere.csv"), "nowhere.csv: cannot be read"),
        (("--readings", "LOG", "--shelter", "box,tunnel"), "tune takes one shelter"),
        (("--readings", "LOG", "--date-order", "ymd"), "--date-order is 'ymd': expected mdy or dmy"),
        (("--readings", "LOG", "--time-zone", "Mars"), "--time-zone is 'Mars'"),
        (("--readings", "LOG", "--time-zone", "UTC+9"), "the time zone they are read in is wrong"),
        (("--readings", "LOG", "--keep"), "--keep is for the notebook's shelters"),
    ],
)
def test_one_sentence_for_what_is_wrong(
    capsys: pytest.CaptureFixture[str], files: tuple[Path, Path], args: tuple[str, ...], sentence: str
) -> None:
    log, weather = (str(f) for f in files)
    if "--time-zone" in args and "UTC+9" in args:
        plain = files[0].with_name("plain.csv")
        plain.write_text(files[0].read_text(encoding="utf-8").replace(", GMT-05:00", ""), encoding="utf-8")
        log = str(plain)
    filled = [log if a == "LOG" else a for a in args]
    base = ["tune", "--demo", "--weather", weather] + ([] if "--shelter" in args else ["--shelter", "box"])
    code, _, fault = ask(capsys, *base, *filled)
    assert code == 2
    assert sentence in fault
    assert "Traceback" not in fault


def test_without_a_notebook_there_is_nothing_to_take_back(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, fault = ask(capsys, "tune", "--undo", "--shelter", "box")
    assert (code, "there is no notebook yet" in fault) == (4, True)
