"""`vesselspec isolate` as its users call it: forms, exit statuses, an earlier sheet, hostile text, a real browser."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import jsonschema_rs
import pytest

from tests.browser import browser
from vesselspec.cli.main import run
from vesselspec.report import html

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "example_vessel"
SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/isolation.schema.json").read_text(encoding="utf-8")))
HOSTILE = "<script>document.title='owned'</script><img src=x onerror=alert(1)>\u202e\x1b[31m"


def test_json_fits_its_schema_and_declares(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["isolate", "ac-main", str(EXAMPLE), "--output", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    SCHEMA.validate(data)
    assert data["declared"]


def test_a_place_that_cannot_be_declared_dead_is_status_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["isolate", "dc-engine-room", str(EXAMPLE)]) == 1
    out = capsys.readouterr().out
    assert "CANNOT DECLARE THIS PLACE DEAD" in out
    assert "[ ]" not in out
    assert run(["isolate", "dc-engine-room", str(EXAMPLE), "--output", "json"]) == 1
    SCHEMA.validate(json.loads(capsys.readouterr().out))


def test_what_cannot_be_understood_is_status_2(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(["isolate", "ac-mian", str(EXAMPLE)]) == 2
    assert "Did you mean ac-main?" in capsys.readouterr().err
    assert run(["isolate", "ac-main", str(EXAMPLE), "--out-of-reach", "nothing"]) == 2
    (tmp_path / "vessel.yaml").write_text("vessel: {record: 1}\n", encoding="utf-8")
    assert run(["isolate", "ac-main", str(tmp_path)]) == 2


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_form_says_what_must_not_be_missed(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    run(["isolate", "pilothouse-combined/ac", str(EXAMPLE), "--output", form])
    out = " ".join(capsys.readouterr().out.replace("\\", "").split())
    for said in (
        "STAYS LIVE IN THE SAME ENCLOSURE",
        "pilothouse-combined/dc-24",
        "Prove the tester again",
        "you have proved it dead",
    ):
        assert said in out, said


def test_an_earlier_sheet_is_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    boat = tmp_path / "boat"
    shutil.copytree(EXAMPLE, boat, ignore=shutil.ignore_patterns("drawings", "refit"))
    out = tmp_path / "out"
    assert run(["isolate", "ac-main", str(boat), "--out", str(out)]) == 0
    printed = out / "isolate-ac-main.json"
    assert sorted(path.name for path in out.iterdir()) == [f"isolate-ac-main.{end}" for end in ("html", "json", "md")]
    capsys.readouterr()
    assert run(["isolate", "ac-main", str(boat), "--compare", str(printed)]) == 0
    assert capsys.readouterr().err == ""
    cables = boat / "cables-ac.yaml"
    extra = "  C999: {from: shore-2, to: ac-main/inverter/2, cores: {black: L1, white: N, green: PE}}\n"
    cables.write_text(cables.read_text(encoding="utf-8") + extra, encoding="utf-8")
    assert run(["isolate", "ac-main", str(boat), "--compare", str(printed)]) == 1
    err = capsys.readouterr().err
    assert "points to open: now also shore-2" in err
    for text in ("[]", "{", '{"kind": "isolation", "format": 1, "points": 3}', "[" * 100_000):
        printed.write_text(text, encoding="utf-8")
        assert run(["isolate", "ac-main", str(boat), "--compare", str(printed)]) == 2
    assert run(["isolate", "ac-main", str(boat), "--compare", str(tmp_path / "none.json")]) == 2


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A boat whose names would like to be markup."""
    said = json.dumps(HOSTILE)
    (tmp_path / "vessel.yaml").write_text(
        f"""vessel: {{record: 1, name: {said}, practice: north-american}}
systems: {{ac: {{kind: ac-single-phase, voltage: 120 V}}}}
devices:
  shore: {{kind: shore-inlet, system: ac, name: {said}}}
loads: {{lamp: {{system: ac, name: {said}}}}}
cables: {{C1: {{from: shore, to: lamp, cores: {{black: L1, white: N, green: PE}}}}}}
""",
        encoding="utf-8",
    )
    return tmp_path


def test_hostile_names_stay_text(hostile: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for form in ("text", "markdown", "html"):
        assert run(["isolate", "lamp", str(hostile), "--output", form]) == 0
        out = capsys.readouterr().out
        assert "\x1b[31m" not in out
        assert "\u202e" not in out
        if form != "text":
            assert "<script" not in out
            assert "<img" not in out


def test_the_state_of_the_record_stands_on_every_printed_page(capsys: pytest.CaptureFixture[str]) -> None:
    run(["isolate", "ac-main", str(EXAMPLE), "--output", "html"])
    style = capsys.readouterr().out.partition("</style>")[0]
    (said,) = re.findall(r'@bottom-left {{ content: "([^"]*)"', style.replace("{", "{{"))
    foot = re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), said)
    assert foot.startswith("Plain Example. Record: ")
    assert "Sheet " in foot
    assert "counter(page)" in style


def test_hostile_names_stay_a_string_in_the_style() -> None:
    said = html.css_string('</style><script>"}; @import url(x); \\22 é')
    assert re.fullmatch(r'"(?:[A-Za-z0-9]|\\[0-9a-f]{6})*"', str(said))


def test_the_page_in_a_browser(hostile: Path, tmp_path: Path) -> None:
    """Debian's Chromium: no script runs, the page keeps its own title, nothing is wider than a phone."""
    browser.chromium()
    out = tmp_path / "out"
    assert run(["isolate", "lamp", str(hostile), "--out", str(out)]) == 0
    page = (out / "isolate-lamp.html").as_uri()
    done = browser.look(tmp_path, "--dump-dom", page)
    assert "<title>Isolation sheet: lamp" in done.stdout
    assert "<title>owned" not in done.stdout
    assert done.stdout.count("<script") == 0
    assert "Prove dead" in done.stdout
