"""Finding and running the layout engine."""

from __future__ import annotations

import stat
import sys
import time
from pathlib import Path

import pytest

from vesselspec.draw import LayoutFailed, LayoutMissing, overview, render

from .helpers import small

PYTHON = sys.executable


def script(path: Path, text: str) -> Path:
    path.write_text(f"#!{PYTHON}\n{text}")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine without an engine; what is put into the folder is beside the interpreter."""
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    (tmp_path / "bin").mkdir()
    return tmp_path


def test_no_engine_says_what_to_type(nowhere: Path) -> None:
    with pytest.raises(LayoutMissing) as caught:
        render("digraph {}")
    assert caught.value.remedy == "type: pip install graphviz-pure"
    assert "dot" in caught.value.reason
    assert "\n" not in str(caught.value)


def test_the_bundled_engine_goes_before_the_systems(nowhere: Path) -> None:
    script(nowhere / "bin" / "dot", "print('system')")
    assert render("digraph {}") == b"system\n"
    script(nowhere / "graphviz-pure", "print('bundled')")
    assert render("digraph {}") == b"bundled\n"


def test_the_source_goes_in_by_standard_input_as_utf8(nowhere: Path) -> None:
    script(nowhere / "graphviz-pure", "import sys; sys.stdout.buffer.write(sys.stdin.buffer.read())")
    assert render('digraph { "é" }') == 'digraph { "é" }'.encode()


def test_an_engine_that_fails_or_hangs(nowhere: Path) -> None:
    engine = script(nowhere / "graphviz-pure", "import sys; sys.exit('syntax error in line 1')")
    with pytest.raises(LayoutFailed, match="syntax error in line 1"):
        render("digraph {")
    script(engine, "import time; time.sleep(30)")
    began = time.monotonic()
    with pytest.raises(LayoutFailed, match=r"no picture after 0\.2 s"):
        render("digraph {}", timeout=0.2)
    assert time.monotonic() - began < 25  # it did not wait for the engine's 30 s


def test_formats() -> None:
    assert render("digraph {a}", "png").startswith(b"\x89PNG")
    with pytest.raises(ValueError, match="unknown format 'exe'"):
        render("digraph {}", "exe")


def test_the_picture_names_faces_that_viewers_have() -> None:
    svg = render(overview(*small()).dot)
    assert b'font-family="Helvetica,Arial,sans-serif"' in svg
    assert b"sans-Serif" not in svg
    assert svg == render(overview(*small()).dot)
