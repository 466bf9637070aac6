"""`vesselspec loads` as others call it: pages, files, exit statuses, one clear error, nothing hostile gets through."""

from __future__ import annotations

import json
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import jsonschema_rs
import pytest

from vesselspec.cli.main import COMMANDS, run

from .boats import battery, split_phase, written

ROOT = Path(__file__).parents[2]
EXAMPLE = str(ROOT / "example_vessel")
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/loads.schema.json").read_text(encoding="utf-8")))
DANGEROUS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")
MODES: dict[str, list[str]] = {
    "loads": [],
    "fit": ["--fit", "--source", "shore", "--limit", "16 A"],
    "card": ["--card", "--source", "shore", "--limit", "16 A"],
    "energy": ["--energy"],
}


@pytest.fixture(autouse=True)
def _command(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setitem(COMMANDS, "loads", "what sources carry, what fits, how long batteries last")


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = run(["loads", *arguments])
    out, err = capsys.readouterr()
    return status, out, err


def data(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    _, out, _ = said(capsys, *arguments, "--output", "json")
    found = json.loads(out)
    SCHEMA.validate(found)
    assert found["format"] == 1
    return found


# --- pages and statuses ---------------------------------------------------------------------------


def test_within_ratings_is_0_and_over_is_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound = written(tmp_path / "a", split_phase())
    assert said(capsys, sound)[0] == 0
    over = split_phase(devices={"shore": {"rating": "15 A"}})
    status, out, _ = said(capsys, written(tmp_path / "b", over))
    assert status == 1
    assert "OVER by 1.0" in out


def test_several_conditions_begin_with_an_overview(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Side by side, then only what wants attention; all of it on request; the same for machines either way."""
    winter = {"running": ["shore"], "demand": {"heater-1": 1, "heater-2": 1, "oven": 1, "outlet": 1}}
    record = split_phase(
        devices={"shore": {"rating": "25 A"}}, conditions={"winter": winter, "laid-up": {"running": ["shore"]}}
    )
    folder = written(tmp_path, record)
    status, out, _ = said(capsys, folder)
    assert status == 1
    words = [line.split() for line in out.splitlines()]
    assert ["shore", "L1", "25", "16.0,", "64", "%", "-", "OVER:", "30.0,", "120", "%"] in words
    assert ["main/a", "L1", "100", "%", "30.0", "30", "device", "winter"] in words
    assert "Neutral currents" not in out
    assert "in: alongside, laid-up" in out, "what is quiet is told as quiet"
    full = said(capsys, folder, "--detail")[1]
    assert full.count("Neutral currents") == 2, "none flows in laid-up"
    assert data(capsys, folder) == data(capsys, folder, "--detail")
    assert "Neutral currents" in said(capsys, folder, "--condition", "winter")[1], "one condition is told in full"
    assert said(capsys, folder, "--detail", "--energy")[0] == 2


def test_a_table_is_no_wider_than_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """Words move to further lines; figures and addresses stay whole."""
    from vesselspec.report.blocks import Table, as_text
    from vesselspec.report.terminal import Page

    table = Table(
        ("item", "at-anchor-night", "A", "why"), (("a-long-address/section/12", "1.5, 3 %", "12.5", "x " * 60),), (2,)
    )
    lines = as_text(Page(width=80, colour=False), [table]).splitlines()
    assert max(map(len, lines)) <= 80
    assert "a-long-address/section/12" in lines[1] or "a-long-address/section/12" in lines[2]
    assert sum(line.count("x") for line in lines) == 60


def test_the_sums_for_machines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = data(capsys, written(tmp_path, split_phase()))
    (condition,) = found["conditions"]
    lines = {line["pole"]: (line["amps"], line["margin_a"]) for line in condition["sources"]}
    assert lines == {"L1": (16, 14), "L2": (9, 21)}
    assert condition["neutrals"][0]["amps"] == pytest.approx(7, rel=0.01)


def test_what_fits_and_what_binds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written(tmp_path, split_phase())
    status, out, _ = said(capsys, folder, *MODES["fit"])
    assert status == 1
    assert "3 loads run together, 1 have to stay off." in out
    assert "shore, L1: 21.0 A against 16 A, 5.0 A too much" in out
    (result,) = data(capsys, folder, *MODES["fit"])["results"]
    assert [each["load"] for each in result["runs"]] == ["heater-1", "heater-2", "outlet"]
    assert said(capsys, folder, "--fit", "--source", "shore")[0] == 0


def test_essential_loads_that_do_not_fit_say_by_how_much(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = split_phase(loads={"heater-1": {"essential": True}, "oven": {"essential": True}})
    status, out, _ = said(capsys, written(tmp_path, record), *MODES["fit"])
    assert status == 1
    assert "DOES NOT FIT: the essential loads alone are too much" in out
    assert "shore, L1: 20.0 A against 16 A, 4.0 A too much" in out


def test_the_card_says_yes_and_no(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out_dir = tmp_path / "out"
    folder = written(tmp_path / "boat", split_phase(loads={"heater-1": {"name": "Cabin heater"}}))
    status, out, _ = said(capsys, folder, *MODES["card"], "--out", str(out_dir))
    assert status == 0
    assert "At most 16 A on each line: L1, L2." in out
    assert "Record not under version control, no date." in out
    page = (out_dir / "card-shore.html").read_text(encoding="utf-8")
    assert '<td class="no">NO</td>' in page
    assert "Cabin heater" in page
    assert "prove dead" in page
    assert {path.name for path in out_dir.iterdir()} == {"card-shore.html", "card-shore.json", "card-shore.md"}


def test_the_card_has_the_commit_s_date_and_never_the_clock_s(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = written(tmp_path, split_phase())
    env = {
        "GIT_AUTHOR_DATE": "2020-02-03T04:05:06+0000",
        "GIT_COMMITTER_DATE": "2020-02-03T04:05:06+0000",
        "GIT_CONFIG_GLOBAL": "/dev/null",
        "PATH": "/usr/bin:/bin:/usr/local/bin",
    }
    for words in (
        ["init", "-q"],
        ["add", "."],
        ["-c", "user.name=T", "-c", "user.email=t@example.invalid", "commit", "-qm", "one"],
    ):
        subprocess.run(["git", *words], cwd=folder, check=True, env=env)
    assert "of 2020-02-03" in said(capsys, folder, *MODES["card"])[1]
    assert "2020-02-03" in said(capsys, folder, *MODES["card"], "--at", "HEAD")[1]
    written(tmp_path, split_phase(loads={"oven": {"power": "2000 W"}}))
    assert "with changes after" in said(capsys, folder, *MODES["card"])[1]


def test_a_bank_that_does_not_last_is_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written(tmp_path / "boat", battery())
    status, out, _ = said(capsys, folder, "--energy", "--day", "away: 24 h", "--out", str(tmp_path / "out"))
    assert status == 1
    assert "DOES NOT LAST; at its low limit of 50 % after 10 h 00 min" in out
    ET.fromstring((tmp_path / "out/energy.svg").read_bytes())
    found = data(capsys, folder, "--energy", "--day", "alongside:12h,away:12h")
    assert found["days"][0]["banks"][0]["low_after_h"] == pytest.approx(22, abs=0.01)
    assert said(capsys, folder, "--energy", "--day", "alongside:20h,away:4h")[0] == 0


def days(*parts: tuple[str, str]) -> dict[str, Any]:
    return {"parts": [{"condition": name, "time": time} for name, time in parts]}


def test_the_record_s_own_days_are_told_unless_asked_otherwise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = {
        "home": {"name": "At home", **days(("alongside", "14 h"), ("away", "10 h"))},
        "short": days(("away", "10 h")),
        "nowhere": days(("elsewhere", "24 h")),
    }
    folder = written(tmp_path / "boat", battery() | {"days": own})
    status, out, _ = said(capsys, folder, "--energy", "--out", str(tmp_path / "out"))
    assert status == 1
    assert "DAY: AT HOME (HOME)" in out
    assert "short: its parts add up to 10 h, not 24 h" in out
    assert "nowhere: there is no condition elsewhere" in out
    assert (tmp_path / "out/energy-home.svg").is_file()
    found = data(capsys, folder, "--energy")
    assert [each["id"] for each in found["days"]] == ["home"]
    assert [each["ends"] for each in found["days"][0]["banks"][0]["stretches"]] == [1, 0.5]
    assert [each["nothing_charges"] for each in found["days"][0]["banks"][0]["stretches"]] == [False, True]
    assert {each["day"] for each in found["not_judged"]} == {"short", "nowhere"}
    assert said(capsys, folder, "--energy", "--day", "home")[0] == 0
    assert "DAY: AWAY 24 H" in said(capsys, folder, "--energy", "--condition", "away")[1]
    _, _, err = said(capsys, folder, "--energy", "--day", "hom")
    assert "no day of the record" in err
    assert "one of home, nowhere, short" in err


def test_the_drawing_shows_what_sinks_and_names_the_rest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said(capsys, EXAMPLE, "--energy", "--day", "evening-run", "--out", str(tmp_path))
    words = [text.text or "" for text in ET.fromstring((tmp_path / "energy-evening-run.svg").read_bytes()).iter()]
    heads = [each for each in words if " Ah: " in each]
    assert [each.split(",")[0] for each in heads] == ["house-bank", "generator-start-bank"]
    assert sum(each.endswith(": stays full") for each in words) == 3
    assert any(each.startswith("low after 22 h") for each in words)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("output", ["text", "markdown"])
def test_every_page_carries_the_cautions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], mode: str, output: str
) -> None:
    folder = written(tmp_path, split_phase())
    _, out, _ = said(capsys, folder, *MODES[mode], "--output", output)
    assert "prove dead before touching" in " ".join(out.replace("> ", "").split())


@pytest.mark.parametrize("mode", MODES)
def test_every_page_for_machines_satisfies_the_schema(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], mode: str
) -> None:
    for n, record in enumerate((split_phase(), split_phase(loads={"oven": {"motor": True}}))):
        assert data(capsys, written(tmp_path / str(n), record), *MODES[mode])["kind"] == mode
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad/vessel.yaml").write_text("vessel: {}\n", encoding="utf-8")
    found = data(capsys, str(tmp_path / "bad"), *MODES[mode])
    assert not found["understood"]
    assert said(capsys, str(tmp_path / "bad"), *MODES[mode])[0] == 2


def test_the_schema_refuses_what_is_no_result() -> None:
    assert not SCHEMA.is_valid({"format": 1, "kind": "loads"})
    assert not SCHEMA.is_valid(
        {"format": 1, "kind": "fit", "vessel": "x", "state": "y", "understood": True, "problems": []}
    )


# --- calls that cannot be understood --------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--fit"], "--fit needs --source"),
        (["--card"], "--card needs --source"),
        (["--fit", "--energy", "--source", "shore"], "three different pages"),
        (["--limit", "30 A"], "--limit belongs to --fit or --card"),
        (["--day", "alongside:24h"], "--day belongs to --energy"),
        (["--every-load"], "--every-load belongs to --fit"),
        (["--fit", "--source", "shor"], "Did you mean shore?"),
        (["--fit", "--source", "heater-1"], "There is no source 'heater-1'"),
        (["--fit", "--source", "shore", "--limit", "30"], "has no unit"),
        (["--fit", "--source", "shore", "--limit", "30 V"], "is a unit of voltage"),
        (["--condition", "alongsid"], "Did you mean alongside?"),
        (["--energy", "--day", "alongside:6h"], "adds up to 6 h, not 24 h"),
        (["--energy", "--day", "alongside"], "is no condition with a time"),
        (["--energy", "--day", "alongside:24"], "has no unit"),
        (["--energy", "--day", "nowhere:24h"], "There is no condition 'nowhere'"),
        (["--energy", "--charged", "120 %"], "is not between 0 and 100 %"),
    ],
)
def test_one_clear_error(tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str) -> None:
    status, out, err = said(capsys, written(tmp_path, split_phase()), *arguments)
    assert status == 2
    assert out == ""
    assert says in err
    assert err.count("\n") <= 2


def test_a_source_without_rating_asks_for_a_limit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = split_phase()
    del record["devices"]["shore"]["rating"]
    folder = written(tmp_path, record)
    status, _, err = said(capsys, folder, "--fit", "--source", "shore")
    assert status == 2
    assert "--limit '30 A'" in err
    assert said(capsys, folder, "--fit", "--source", "shore", "--limit", "30 A")[0] == 0


def test_a_condition_with_a_missing_position(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    selector = {"kind": "selector", "system": "ac", "inputs": ["one", "two"]}
    folder = written(tmp_path, split_phase(devices={"selector": selector}))
    for arguments in (
        ["--condition", "alongside"],
        MODES["fit"],
        MODES["card"],
        ["--energy", "--day", "alongside:24h"],
    ):
        status, _, err = said(capsys, folder, *arguments)
        assert status == 2
        assert "selector: its position is not recorded" in err
    status, out, _ = said(capsys, folder)
    assert status == 0
    assert "Conditions that cannot be judged".upper() in out


def test_a_record_without_conditions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written(tmp_path, split_phase(conditions={"alongside": None}))
    assert said(capsys, folder)[0] == 0
    assert said(capsys, folder, "--energy")[0] == 2
    assert said(capsys, folder, *MODES["fit"])[0] == 2


# --- hostile names --------------------------------------------------------------------------------

HOSTILE = '<script>alert(1)</script> | "x" & `y` [z](http://z.invalid) \u202e\x1b[31m'


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add(tag)


def hostile(folder: Path) -> str:
    record = split_phase(
        loads={key: {"name": HOSTILE} for key in ("heater-1", "oven", "outlet")},
        devices={
            "shore": {"name": HOSTILE},
            "bank": {
                "kind": "battery-bank",
                "system": "dc",
                "name": HOSTILE,
                "capacity": "90 Ah",
                "chemistry": "agm-lead-acid",
            },
            "generator": {"kind": "generator", "system": "ac", "name": HOSTILE},
        },
        conditions={"alongside": {"name": HOSTILE, "running": ["shore", "generator"]}},
    )
    path = Path(written(folder, record)) / "vessel.yaml"
    text = json.loads(path.read_text(encoding="utf-8"))
    text["vessel"]["name"] = HOSTILE
    path.write_text(json.dumps(text), encoding="utf-8")
    return str(folder)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("output", ["text", "markdown", "json"])
def test_nothing_hostile_reaches_a_terminal_or_becomes_markup(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], mode: str, output: str
) -> None:
    folder = hostile(tmp_path / "boat")
    status, out, _ = said(capsys, folder, *MODES[mode], "--output", output, "--out", str(tmp_path / "out"))
    assert status in (0, 1)
    assert not DANGEROUS.search(out)
    if output == "markdown":
        assert "<script" not in out
        assert "](http" not in out
    for file in (tmp_path / "out").iterdir():
        text = file.read_text(encoding="utf-8")
        assert not DANGEROUS.search(text)
        if file.suffix == ".html":
            tags = _Tags()
            tags.feed(text)
            assert "script" not in tags.found
            assert "a" not in tags.found
        if file.suffix == ".svg":
            found = {element.tag.rpartition("}")[2] for element in ET.fromstring(text).iter()}
            assert "script" not in found


# --- the example ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        ([], None),
        (["--fit", "--source", "shore-1", "--limit", "30 A"], 1),
        (["--fit", "--source", "house-bank", "--condition", "at-anchor"], None),
        (["--fit", "--source", "pilothouse-inverter", "--every-load"], None),
        (["--card", "--source", "shore-1", "--limit", "30 A", "--condition", "alongside-winter"], 0),
        (["--card", "--source", "generator-1"], 0),
        (["--energy", "--day", "under-way:6h,at-anchor:18h"], None),
        (["--energy"], None),
    ],
)
def test_the_example_runs(capsys: pytest.CaptureFixture[str], arguments: list[str], status: int | None) -> None:
    found, _, err = said(capsys, EXAMPLE, *arguments)
    assert found in ((0, 1) if status is None else (status,)), err
    data(capsys, EXAMPLE, *arguments)


def test_the_same_page_twice(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--fit", "--source", "shore-1", "--limit", "30 A"]
    assert said(capsys, EXAMPLE, *arguments)[1] == said(capsys, EXAMPLE, *arguments)[1]
