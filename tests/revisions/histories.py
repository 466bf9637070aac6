"""Random histories of a vessel folder, and what git itself says about them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from hypothesis import strategies as st

from .helpers import git, new_repository

FOLDERS = ["", "dc/", "ac main/deep/", "other/", ".hidden/", "übersicht/"]
NAMES = [
    "vessel.yaml",
    "a.yaml",
    "two words.yaml",
    'quo"te.yaml',
    "new\nline.yaml",
    "tab\t.yaml",
    "-dash.yaml",
    ":colon.yaml",
    "back\\slash.yaml",
    "star*.yaml",
    "größe.yaml",
    "船.yaml",
    ".dot.yaml",
    "photo.jpg",
    "yaml",
]
MESSAGES = [
    "one line",
    "subject\n\nbody line\nsecond\n",
    "two\nlines of subject\n\n\nbody",
    "ünïcode — 船\n",
    "",
    "\n\n  late subject  \n\nbody  \n\nmore\n\n",
]


@dataclass(frozen=True)
class Step:
    """One commit to be: its parents by position, its edits (None deletes), a rename, a message, a time."""

    parents: tuple[int, ...]
    edits: dict[str, bytes | None]
    rename: tuple[str, str] | None
    message: str
    time: int
    zone: str


@dataclass
class History:
    steps: list[Step] = field(default_factory=list)


PATHS = st.builds(str.__add__, st.sampled_from(FOLDERS), st.sampled_from(NAMES))


@st.composite
def histories(draw: st.DrawFn, folder: str) -> History:
    prefix = f"{folder}/" if folder else ""
    outside = st.sampled_from(["elsewhere.yaml", "boats/two/vessel.yaml", "boats/one.yaml"])
    anywhere = st.one_of(PATHS.map(lambda path: prefix + path), outside)
    history = History()
    for position in range(draw(st.integers(2, 7))):
        parents: list[int] = []
        if position and draw(st.integers(0, 9)):  # one in ten is a second root
            parents = draw(
                st.lists(st.integers(max(0, position - 4), position - 1), min_size=1, max_size=2, unique=True)
            )
        edits = draw(st.dictionaries(anywhere, st.none() | st.binary(max_size=12), max_size=5))
        if not position:
            edits[f"{prefix}vessel.yaml"] = b"name: one\n"
        rename = draw(st.none() | st.tuples(anywhere, anywhere))
        message = draw(st.sampled_from(MESSAGES))
        zone = draw(st.sampled_from(["+0000", "-0330", "+1245"]))
        time = draw(st.integers(1_600_000_000, 1_600_000_020))
        history.steps.append(Step(tuple(parents), edits, rename, message, time, zone))
    return history


def build(folder: Path, history: History, *options: str) -> Path:
    """Let git make the commits, each with its branch: c0, c1 …"""
    new_repository(folder, "--bare", *options)
    states: list[set[str]] = []
    stream = bytearray()
    for position, step in enumerate(history.steps):
        state = set(states[step.parents[0]]) if step.parents else set()
        message = step.message.encode()
        stream += b"reset refs/heads/c%d\n" % position
        stream += b"commit refs/heads/c%d\nmark :%d\n" % (position, position + 1)
        stream += b"author N\xc3\xa5n Fitter <n@yard.example> %d %s\n" % (step.time, step.zone.encode())
        stream += b"committer C <c@yard.example> %d %s\n" % (step.time, step.zone.encode())
        stream += b"data %d\n%s\n" % (len(message), message)
        for number, parent in enumerate(step.parents):
            stream += b"%s :%d\n" % (b"merge" if number else b"from", parent + 1)
        for path, content in step.edits.items():
            if content is None:
                stream += b"D %s\n" % _quoted(path)
                state.discard(path)
            else:
                stream += b"M 100644 inline %s\ndata %d\n%s\n" % (_quoted(path), len(content), content)
                state.add(path)
        if step.rename and step.rename[0] in state and step.rename[0] != step.rename[1]:
            stream += b"R %s %s\n" % (_quoted(step.rename[0]), _quoted(step.rename[1]))
            state = (state - {step.rename[0]}) | {step.rename[1]}
        states.append(state)
        stream += b"\n"
    git(folder, "fast-import", "--quiet", "--force", feed=bytes(stream))
    return folder


def _quoted(path: str) -> bytes:
    escaped = path.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return b'"' + escaped.encode() + b'"'


def files_by_git(repository: Path, ref: str, folder: str) -> dict[str, bytes]:
    """The files of the vessel, one 'git show' each."""
    listed = git(repository, "ls-tree", "-r", "-z", "--name-only", ref).decode().split("\0")
    inside = [PurePosixPath(p).relative_to(folder) for p in listed if p and _is_below(p, folder)]
    visible = [p for p in inside if not any(part.startswith(".") for part in p.parts)]
    others = {p.parent for p in visible if p.name == "vessel.yaml"} - {PurePosixPath()}
    own = [p for p in visible if p.name.endswith(".yaml") and not others & set(p.parents)]
    return {str(p): git(repository, "show", f"{ref}:{PurePosixPath(folder) / p}") for p in own}


def _is_below(path: str, folder: str) -> bool:
    return not folder or path.startswith(f"{folder}/")


def touching_by_git(repository: Path, span: list[str], folder: str) -> set[str]:
    """The commits of a range that differ from each of their parents in the folder, one by one.

    Of a merge the parents inside the range count; if there are none, a difference from any parent does.
    """
    lines = git(repository, "rev-list", "--parents", *span).decode().splitlines()
    members = {line.split()[0] for line in lines}
    empty = git(repository, "hash-object", "-w", "-t", "tree", "--stdin").decode().strip()
    found: set[str] = set()
    for line in lines:
        commit, *parents = line.split()
        inside = [parent for parent in parents if parent in members]
        differs = [
            bool(git(repository, "diff-tree", "-r", old, commit, "--", folder or "."))
            for old in inside or parents or [empty]
        ]
        if all(differs) if inside else any(differs):
            found.add(commit)
    return found
