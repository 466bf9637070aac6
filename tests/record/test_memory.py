"""What is remembered from one read to the next changes nothing that is read."""

from __future__ import annotations

import random
from pathlib import Path

from vesselspec.record import Memory, entries_of, read

EXAMPLE = Path(__file__).parents[2] / "example_vessel"


def test_a_read_with_memory_is_a_read_without() -> None:
    files = {path.name: path.read_bytes() for path in sorted(EXAMPLE.glob("*.yaml"))}
    chance, memory = random.Random(7), Memory()
    whole = read(files, memory)
    assert whole.vessel is not None
    for number in range(12):
        name = chance.choice(sorted(files))
        spoilt = chance.choice(
            [b"", b"cables: 3\n", files[name].replace(b" 1", b" 2", 1), b"# %d\n" % number + files[name]]
        )
        changed = {**files, name: spoilt}
        assert read(changed, memory) == read(changed)
        again = read(files, memory)
        assert again == whole
        # What was read from the same words lately is the same thing.
        assert again.vessel is not None
        assert again.vessel.cables["C204"] is read(files, memory).vessel.cables["C204"]  # type: ignore[union-attr]


def test_the_entries_of_one_file() -> None:
    assert entries_of(b"cables: 3\n") is None
    assert entries_of(b"a: [\n") is None
    assert entries_of(b"# nothing\n") == {}
    assert entries_of(b"spaces: {bilge: {wet: true}}\n") == {("spaces", "bilge"): {"wet": True}}
