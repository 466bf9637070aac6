"""The contents of files, read from git in batches and kept from one revision to the next."""

from __future__ import annotations

from dataclasses import dataclass, field

from vesselspec.revisions import objects
from vesselspec.revisions.errors import RevisionError
from vesselspec.revisions.intake import TOTAL_LIMIT
from vesselspec.revisions.runner import Runner


@dataclass(frozen=True)
class Blobs:
    """Blob id → content. From one revision to the next nearly all blobs are the same."""

    git: Runner
    _kept: dict[str, bytes] = field(default_factory=dict, repr=False, compare=False)
    _sizes: dict[str, int] = field(default_factory=dict, repr=False, compare=False)

    def sizes(self, ids: set[str]) -> dict[str, int]:
        """The size of each. Asked before any content, as a small packed blob may unfold to gigabytes."""
        if wanted := ids - self._sizes.keys():
            answer = self.git.run("cat-file", "--batch-check", feed=_lines(wanted))
            self._sizes.update(objects.batch_sizes(answer.out))
        if not ids <= self._sizes.keys():
            raise _incomplete()
        return {blob: self._sizes[blob] for blob in ids}

    def held(self, blob: str) -> bytes | None:
        """The content if it is kept; git is not asked."""
        return self._kept.get(blob)

    def contents(self, ids: set[str]) -> dict[str, bytes]:
        """The content of each; the caller has made sure that they are not too large."""
        contents = {blob: self._kept[blob] for blob in ids if blob in self._kept}
        if wanted := ids - contents.keys():
            out = self.git.run("cat-file", "--batch", feed=_lines(wanted)).checked()
            contents |= {blob: content for blob, kind, content in objects.batch(out) if kind == "blob"}
        if not ids <= contents.keys():
            raise _incomplete()
        if sum(map(len, self._kept.values())) > TOTAL_LIMIT:
            self._kept.clear()
        self._kept.update(contents)
        return contents


def _lines(ids: set[str]) -> bytes:
    return "".join(f"{blob}\n" for blob in sorted(ids)).encode("ascii")


def _incomplete() -> RevisionError:
    # It is damaged, or a partial clone, which would fetch on demand; here nothing is fetched.
    return RevisionError(
        "The repository does not hold all files of this revision.",
        "If it is a partial clone, fetch them. Type: git fetch --refetch --no-filter",
    )
