"""The hook files of `vesselspec guard`: written, recognised and removed, and never anybody else's."""

from __future__ import annotations

import hashlib
import os
import re
import shlex
import tempfile
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

#: Git runs the one before a commit and the other before the commit that ends a merge.
NAMES = ("pre-commit", "pre-merge-commit")
#: What a hook of somebody else calls to have the guard as well.
CALL = "vesselspec guard --check"
_HEAD = re.compile(rb"#!/bin/sh\n# vesselspec guard ([0-9a-f]{64})\n")
#: Bytes of a hook that are read at most; ours has one.
_LIMIT = 65536

_BODY = """\
# Judges what is staged in every vessel of this repository before it is committed.
# `vesselspec guard --remove` takes it away.
python={python}
if [ -x "$python" ] && "$python" -P -c 'import vesselspec' 2>/dev/null; then
    exec "$python" -P -m vesselspec guard --check --fail-on {fail_on}
fi
if command -v vesselspec >/dev/null 2>&1; then
    exec vesselspec guard --check --fail-on {fail_on}
fi
{{
    echo 'vesselspec: the guard of this repository cannot run: vesselspec is not installed here any more.'
    echo '  Nothing was judged, so nothing was committed. Install it, and have it on the search path (PATH).'
    echo "  Or do without: remove the file $0"
}} >&2
exit 2
"""


class State(Enum):
    """What is in the place of a hook."""

    ABSENT = "absent"
    OURS = "ours"
    EDITED = "edited"
    """Ours once, and changed by hand since."""
    CALLING = "calling"
    """Somebody else's, with a line that calls the guard."""
    OTHER = "other"


@dataclass(frozen=True)
class Hook:
    """One hook of a repository."""

    name: str
    file: Path
    state: State

    @property
    def runs(self) -> bool:
        """Whether git runs it and the guard with it; a file that cannot be executed is passed over."""
        return self.state in (State.OURS, State.EDITED, State.CALLING) and os.access(self.file, os.X_OK)


def hooks_in(folder: Path) -> tuple[Hook, ...]:
    """What is there of the hooks that a guard needs."""
    return tuple(Hook(name, folder / name, _state(folder / name)) for name in NAMES)


def script(python: str, fail_on: str) -> bytes:
    """The text of the hook. It finds the vessels itself, so that no name of a folder stands in it."""
    body = os.fsencode(_BODY.format(python=shlex.quote(python), fail_on=fail_on))
    return b"#!/bin/sh\n# vesselspec guard %s\n" % hashlib.sha256(body).hexdigest().encode() + body


def install(hooks: tuple[Hook, ...], content: bytes) -> None:
    """Put our hooks in place, each in one step. Raises RevisionError, having changed nothing, if one is another's."""
    for hook in hooks:
        if hook.state is State.EDITED:
            raise _edited(hook)
        if hook.state is State.OTHER:
            raise RevisionError(
                f"There is a hook of somebody else, which is left as it is: {shown(str(hook.file))}.",
                f"Add this line to it, above any exit: {CALL} || exit $?",
            )
    made: list[Path] = []
    try:
        for hook in hooks:
            if hook.state is not State.CALLING:
                _write(hook, content)
                made += [hook.file] if hook.state is State.ABSENT else []
    except OSError as error:
        for file in made:
            file.unlink(missing_ok=True)
        raise _refused(hook, error) from error


def remove(hooks: tuple[Hook, ...]) -> None:
    """Take our hooks away, and only ours."""
    for hook in hooks:
        if hook.state is State.EDITED:
            raise _edited(hook)
    for hook in hooks:
        try:
            if hook.state is State.OURS and _state(hook.file) is State.OURS:
                hook.file.unlink()
        except OSError as error:
            raise _refused(hook, error) from error


def _write(hook: Hook, content: bytes) -> None:
    hook.file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=hook.file.parent, prefix=".vesselspec-")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o755)
        if hook.state is State.ABSENT:
            os.link(temporary, hook.file)  # fails where anything has appeared there since
        else:
            temporary.replace(hook.file)
    finally:
        temporary.unlink(missing_ok=True)


def _state(file: Path) -> State:
    if not os.path.lexists(file):
        return State.ABSENT
    if file.is_symlink() or not file.is_file():
        return State.OTHER  # a link is not followed: what it leads to is another's
    try:
        with file.open("rb") as stream:
            content = stream.read(_LIMIT)
    except OSError:
        return State.OTHER
    if head := _HEAD.match(content):
        same = hashlib.sha256(content[head.end() :]).hexdigest().encode() == head[1]
        return State.OURS if same else State.EDITED
    lines = (line.strip() for line in content.decode("utf-8", "replace").splitlines())
    return State.CALLING if any(CALL in line and not line.startswith("#") for line in lines) else State.OTHER


def _edited(hook: Hook) -> RevisionError:
    return RevisionError(
        f"The guard's hook was changed by hand and is left as it is: {shown(str(hook.file))}.",
        "Move it away if nothing in it is needed any more, and run this again.",
    )


def _refused(hook: Hook, error: OSError) -> RevisionError:
    return RevisionError(
        f"{shown(str(hook.file))} cannot be changed: {error.strerror}.", "See to that, and run this again."
    )
