"""A YAML language server, spoken to as an editor speaks to it: LSP 3.17 over standard input and output.

It is installed by `npm ci` in this folder (exact versions in package-lock.json); `.ci/run` does that.
"""

from __future__ import annotations

import json
import os
import queue
import shutil
import subprocess
import threading
from pathlib import Path
from types import TracebackType
from typing import IO, Any

import pytest

HERE = Path(__file__).parent
SERVER = HERE / "node_modules/yaml-language-server/bin/yaml-language-server"
NODE = shutil.which("node")
#: Seconds for one answer; a loaded machine takes two.
PATIENCE = 60


def require() -> None:
    """Skip the test where the server is not installed; fail in CI, where it must be."""
    if NODE is None or not SERVER.exists():
        if os.environ.get("CI"):
            pytest.fail("the YAML language server is not installed, and CI must try the schema with it")
        pytest.skip("the YAML language server is not installed: npm ci in tests/editor")


class Editor:
    """An editor with one schema for every YAML file."""

    def __init__(self, schema: Path, root: Path) -> None:
        self.root = root
        self._process = subprocess.Popen(
            [NODE or "node", str(SERVER), "--stdio"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=root,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._in: IO[bytes] = self._process.stdin
        self._settings = {
            "yaml": {
                "schemas": {schema.as_uri(): "*.yaml"},
                "schemaStore": {"enable": False},  # nothing is fetched
                "validate": True,
                "hover": True,
                "completion": True,
            }
        }
        self._answers: queue.Queue[dict[str, Any]] = queue.Queue()
        self._number = self._opened = 0
        self._uri = ""
        threading.Thread(target=self._listen, args=(self._process.stdout,), daemon=True).start()
        capabilities = {
            "textDocument": {
                "hover": {"contentFormat": ["markdown"]},
                "completion": {"completionItem": {"documentationFormat": ["markdown"], "snippetSupport": True}},
            }
        }
        self.ask("initialize", {"processId": os.getpid(), "rootUri": root.as_uri(), "capabilities": capabilities})
        self._tell("initialized", {})
        self._tell("workspace/didChangeConfiguration", {"settings": {}})

    def __enter__(self) -> Editor:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.kill()
        self._process.wait()
        self._in.close()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def open(self, name: str, text: str) -> list[dict[str, Any]]:
        """Open a file that was not open before; return what the editor would mark in it."""
        self._opened += 1  # marks of an earlier text at the same place could still be on their way
        uri = self._uri = (self.root / str(self._opened) / name).as_uri()
        document = {"uri": uri, "languageId": "yaml", "version": 1, "text": text}
        self._tell("textDocument/didOpen", {"textDocument": document})
        while True:
            said = self._next()
            if said.get("method") == "textDocument/publishDiagnostics" and said["params"]["uri"] == uri:
                found: list[dict[str, Any]] = said["params"]["diagnostics"]
                return found

    def hover(self, line: int, character: int) -> str:
        """The text that is shown for a position in the file opened last."""
        found = self.ask("textDocument/hover", self._at(line, character))
        return str(found["contents"]["value"]) if found else ""

    def complete(self, line: int, character: int) -> dict[str, dict[str, Any]]:
        """What is offered at a position in the file opened last, by its label."""
        found = self.ask("textDocument/completion", self._at(line, character))
        items = found["items"] if isinstance(found, dict) else found
        return {item["label"]: item for item in items}

    def ask(self, method: str, params: Any) -> Any:
        """Send a request and wait for its result."""
        self._number += 1
        self._send({"id": self._number, "method": method, "params": params})
        while True:
            said = self._next()
            if said.get("id") == self._number and "method" not in said:
                assert "error" not in said, said
                return said["result"]

    def _at(self, line: int, character: int) -> Any:
        return {"textDocument": {"uri": self._uri}, "position": {"line": line, "character": character}}

    def _tell(self, method: str, params: Any) -> None:
        self._send({"method": method, "params": params})

    def _send(self, message: dict[str, Any]) -> None:
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        self._in.write(b"Content-Length: %d\r\n\r\n%s" % (len(body), body))
        self._in.flush()

    def _next(self) -> dict[str, Any]:
        """The next message; what the server asks is answered on the way."""
        while True:
            said = self._answers.get(timeout=PATIENCE)
            if "method" in said and "id" in said:
                self._send({"id": said["id"], "result": self._answer(said)})
            else:
                return said

    def _answer(self, asked: dict[str, Any]) -> Any:
        if asked["method"] == "workspace/configuration":
            return [self._settings.get(item["section"], {}) for item in asked["params"]["items"]]
        return None

    def _listen(self, out: IO[bytes]) -> None:
        while head := out.readline():
            length = 0
            while head.strip():
                if head.lower().startswith(b"content-length:"):
                    length = int(head.split(b":")[1])
                head = out.readline()
            self._answers.put(json.loads(out.read(length)))
