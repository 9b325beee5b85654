"""Asks the running workbench what its OpenAPI document allows, and what it forbids.

    .venv/bin/python tests/api/fuzz.py        a minute; OPAL_SLOW=1: ten

schemathesis makes requests from the document, good and bad, and holds every answer
against it: no error of the server, no status, media type or body that the document does
not tell of, and nothing accepted that it forbids. What it allows may still be refused in
words, since no schema says that a cut lies inside a stone.
"""

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BINARY = Path(os.environ.get("OPALWRIGHT", ROOT / "target/debug/opalwright"))
SECONDS = 600 if os.environ.get("OPAL_SLOW") == "1" else 60
CHECKS = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
]
# Below what one address may ask of the server.
RATE = "35/s"


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="opalwright-api-") as folder:
        command = [BINARY, "--store", Path(folder) / "bench.db", "serve", "--address", "127.0.0.1:0"]
        with open(Path(folder) / "said", "w+") as said:
            server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True)
            try:
                found = re.search(r"http://127\.0\.0\.1:\d+", server.stdout.readline())
                if not found:
                    print("the workbench told no address")
                    return 1
                ended = ask(found.group())
                if server.poll() is not None:
                    print(f"the workbench ended with {server.returncode}")
                    ended = 1
            finally:
                server.terminate()
                server.wait(20)
            said.seek(0)
            told = said.read()
        if "panicked" in told:
            print(told)
            ended = 1
        return ended


def ask(address: str) -> int:
    command = [
        Path(sys.executable).parent / "schemathesis", "run", f"{address}/api/openapi.json",
        # Says that a page of the workbench asks, as the guard against other sites wants.
        "--header", "x-opalwright: 1",
        "--checks", ",".join(CHECKS),
        "--phases", "examples,coverage,fuzzing",
        "--max-examples", "5", "--max-time", str(SECONDS), "--rate-limit", RATE,
        "--seed", "2026", "--continue-on-failure", "--warnings", "off", "--no-color",
    ]
    return subprocess.run(command, cwd=tempfile.gettempdir(), check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
