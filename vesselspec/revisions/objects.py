"""What git prints, taken apart: batches of objects, trees, commits. All of it is bytes from strangers."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone

from vesselspec.revisions.intake import Entry, Kind
from vesselspec.revisions.values import Commit

_KINDS = {b"120000": Kind.LINK, b"160000": Kind.SUBMODULE}


def batch(out: bytes) -> Iterator[tuple[str, str, bytes]]:
    """From 'cat-file --batch': id, type and content of each object; type '' for an object that is missing."""
    position = 0
    while position < len(out):
        end = out.index(b"\n", position)
        header = out[position:end].decode("utf-8", "replace").split(" ")
        position = end + 1
        if len(header) == 3 and header[2].isdecimal():
            size = int(header[2])
            yield header[0], header[1], out[position : position + size]
            position += size + 1
        else:
            yield header[0], "", b""


def batch_sizes(out: bytes) -> dict[str, int]:
    """From 'cat-file --batch-check': id → size; a missing object is left out."""
    lines = (line.split(" ") for line in out.decode("utf-8", "replace").splitlines())
    return {line[0]: int(line[2]) for line in lines if len(line) == 3 and line[2].isdecimal()}


def tree(out: bytes, below: bytes) -> Iterator[Entry]:
    """From 'ls-tree -r -z --full-tree': the entries below a folder, stray bytes as surrogates."""
    for record in out.split(b"\0"):
        head, tab, path = record.partition(b"\t")
        if not tab or not path.startswith(below):
            continue
        mode, _, blob = head.split(b" ")
        relative = path[len(below) :].decode("utf-8", "surrogateescape")
        yield Entry(relative, _KINDS.get(mode, Kind.FILE), blob=blob.decode("ascii"))


def raw_changes(out: bytes, below: bytes) -> Iterator[tuple[str, list[tuple[str, Entry | None]]]]:
    """From 'diff-tree --stdin -r -z --raw': each commit that changed something below a folder, with path → entry.

    None stands for what is gone.
    """
    commit, changes = "", list[tuple[str, Entry | None]]()
    words = iter(out.split(b"\0"))
    for word in words:
        if not word.startswith(b":"):
            if changes:
                yield commit, changes
            # The id alone, or with the parent that it was compared with.
            commit, changes = word.strip().decode("ascii", "replace").partition(" ")[0], []
            continue
        _, mode, _, blob, status = word.split(b" ")
        path = next(words)
        if path.startswith(below):
            relative = path[len(below) :].decode("utf-8", "surrogateescape")
            kind = _KINDS.get(mode, Kind.FILE)
            gone = status.startswith(b"D")
            changes.append((relative, None if gone else Entry(relative, kind, blob=blob.decode("ascii"))))


def commit(commit_id: str, raw: bytes) -> Commit:
    """Take a commit object apart."""
    head, _, message = raw.partition(b"\n\n")
    fields: dict[bytes, bytes] = {}
    parents: list[str] = []
    for line in head.split(b"\n"):
        key, _, value = line.partition(b" ")
        if key == b"parent":
            parents.append(value.decode("ascii", "replace"))
        else:
            fields.setdefault(key, value)
    encoding = fields.get(b"encoding", b"utf-8").decode("ascii", "replace")
    subject, body = _message(_text(message, encoding))
    return Commit(
        commit_id,
        _when(fields.get(b"committer", b"")),
        _author(_text(fields.get(b"author", b""), encoding)),
        subject,
        body,
        tuple(parents),
    )


def _text(raw: bytes, encoding: str) -> str:
    try:
        return raw.decode(encoding, "replace")
    except (LookupError, ValueError):
        return raw.decode("utf-8", "replace")


def _message(message: str) -> tuple[str, str]:
    """Subject: the first paragraph in one line. Body: the rest."""
    lines = [line.rstrip(" \t\r\f\v") for line in message.strip("\n").split("\n")]
    while lines and not lines[0]:
        lines.pop(0)
    end = lines.index("") if "" in lines else len(lines)
    return " ".join(lines[:end]), "\n".join(lines[end:]).strip("\n")


def _author(ident: str) -> str:
    name, _, rest = ident.rpartition(" <")
    return name.strip() or rest.partition(">")[0]


def _when(ident: bytes) -> datetime:
    """The date of an identity line; a forged one that no calendar holds counts as the epoch, as in git."""
    try:
        seconds, offset = ident.rpartition(b"> ")[2].decode("ascii").split(" ")
        minutes = int(offset[1:3]) * 60 + int(offset[3:5])
        zone = timezone(timedelta(minutes=-minutes if offset[0] == "-" else minutes))
        return datetime.fromtimestamp(int(seconds), zone)
    except (ValueError, OverflowError, OSError, IndexError):
        return datetime.fromtimestamp(0, UTC)
