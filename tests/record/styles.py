"""One and the same data, written in every way that YAML allows: what an edit must leave as it found it."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from typing import Any

from vesselspec.record.rewrite import written

COMMENTS = ("", "", "", "", "  # why", " # 'quoted", ' # "x: {', "  # C1: no key", "  #")


class Style:
    """A way of writing: which one is drawn from a seed, entry by entry."""

    def __init__(self, seed: int, *, aliases: bool = True) -> None:
        self.of = random.Random(seed)
        self.aliases = aliases
        self.ending = self.of.choice(["\n", "\n", "\r\n"])
        self.bom = self.of.random() < 0.2
        self.head = self.of.choice(
            ["", "", "# head\n\n", "# head\n", "---\n", "\n\n", "# yaml-language-server: $schema=x\n"]
        )
        self.tail = self.of.choice(["", "", "\n", "# the end\n", "\n\n# the end", "  \n"])
        self._anchors: dict[str, str] = {}
        self._text = False

    def file(self, data: Mapping[str, Any]) -> bytes:
        """The content of a file that says the data."""
        self._anchors = {}
        text = self.head + "".join(self._pairs(data, 0, 0)) + self.tail
        return (b"\xef\xbb\xbf" if self.bom else b"") + text.replace("\n", self.ending).encode()

    def files(self, data: Mapping[str, Any]) -> dict[str, bytes]:
        """The same, its collections spread over a few files."""
        spread: dict[str, dict[str, Any]] = {"vessel.yaml": {"vessel": data["vessel"]}}
        for collection, entries in data.items():
            if collection == "vessel":
                continue
            names = ["vessel.yaml", "more.yaml", f"{collection}.yaml", "in/here.yaml"]
            for key, entry in entries.items():
                spread.setdefault(self.of.choice(names), {}).setdefault(collection, {})[key] = entry
        return {name: self.file(held) for name, held in spread.items()}

    def _comment(self) -> str:
        return self.of.choice(COMMENTS)

    def _between(self, column: int) -> str:
        pad = " " * column
        if self._text:  # what stands further in would be one more line of it
            self._text = False
            return self.of.choice(["", "\n", "# far left\n"])
        return self.of.choice(
            [
                "",
                "",
                "",
                "",
                "\n",
                "# far left\n",
                f"{pad}# of what follows\n",
                f"{pad}   # in\n",
                f"\n{pad}# alone\n\n",
            ]
        )

    def _pairs(self, data: Mapping[str, Any], column: int, depth: int) -> list[str]:
        out = []
        for number, (key, value) in enumerate(data.items()):
            first = ["", "", f"{' ' * column}# first\n"]
            out.append(self._between(column) if number or depth == 0 else self.of.choice(first))
            out.append(" " * column + self._key(key) + ":")
            out.append(self._value(value, column, depth + 1))
        return out

    def _value(self, value: Any, column: int, depth: int) -> str:
        if isinstance(value, Mapping) and value and (depth <= 1 or self.of.random() < 0.6):
            inner = column + self.of.choice([1, 2, 2, 4])
            return f"{self._anchor()}{self._comment()}\n" + "".join(self._pairs(value, inner, depth))
        if isinstance(value, list) and value and depth > 1 and self.of.random() < 0.3:
            inner = column + self.of.choice([1, 2])
            items = (f"{' ' * inner}- {self._flow(each)}{self._comment()}\n" for each in value)
            return f"{self._comment()}\n" + "".join(items)
        if isinstance(value, str) and depth > 1 and "\n" not in value and self.of.random() < 0.08:
            self._text = True
            mark, inner = self.of.choice(["|-", ">-"]), column + 2
            return f" {mark}\n{' ' * inner}{value}\n"
        known = self._anchors.get(json.dumps(value))
        if self.aliases and known is not None and isinstance(value, dict | list) and self.of.random() < 0.3:
            return f" *{known}{self._comment()}\n"
        anchor = self._anchor()
        if anchor and isinstance(value, dict | list):
            self._anchors[json.dumps(value)] = anchor.strip().removeprefix("&")
        return f" {anchor.strip()}{' ' if anchor else ''}{self._flow(value)}{self._comment()}\n"

    def _anchor(self) -> str:
        return f" &a{self.of.randrange(10**9)}" if self.aliases and self.of.random() < 0.1 else ""

    def _key(self, key: str) -> str:
        return self._scalar(key)

    def _flow(self, value: Any) -> str:
        break_ = "\n" + " " * 24 if self.of.random() < 0.1 else " "
        inside = self.of.choice(["", " "])
        if isinstance(value, Mapping):
            held = f",{break_}".join(f"{self._key(key)}: {self._flow(each)}" for key, each in value.items())
            last = "," if held and self.of.random() < 0.1 else ""
            return "{" + inside + held + last + inside + "}"
        if isinstance(value, list):
            return "[" + inside + f",{break_}".join(map(self._flow, value)) + inside + "]"
        return self._scalar(value) if isinstance(value, str) else json.dumps(value)

    def _scalar(self, text: str) -> str:
        plain = written(text)
        quoted = self.of.random()
        if quoted < 0.1:
            return json.dumps(text, ensure_ascii=self.of.random() < 0.5)
        if quoted < 0.2 and "\n" not in text:
            return "'" + text.replace("'", "''") + "'"
        return plain
