"""Makes every committed reference value again and compares.

Each script `NAME.py` beside this file has a function `values()` that returns a
JSON-ready dict; `NAME.json` holds what it gave when it was committed, with the
versions of the libraries. This script fails on any number that moved by more
than a relative 1e-6 (or the script's own TOLERANCE).

    python tests/reference/check.py            compare all
    python tests/reference/check.py --write    write the JSON files again
"""

import importlib.util
import json
import math
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
# Benchmarks and makers of examples run on their own.
NOT_A_TABLE = ("check", "bench_", "example_")


def load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def differences(old, new, tolerance, where=""):
    if where.endswith("/versions"):
        return
    if isinstance(old, dict) and isinstance(new, dict):
        for key in sorted(set(old) | set(new)):
            if key not in old or key not in new:
                yield f"{where}/{key}: only on one side"
            else:
                yield from differences(old[key], new[key], tolerance, f"{where}/{key}")
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield f"{where}: {len(old)} against {len(new)} entries"
        for k, (a, b) in enumerate(zip(old, new)):
            yield from differences(a, b, tolerance, f"{where}[{k}]")
    elif isinstance(old, bool) or isinstance(new, bool) or not isinstance(old, (int, float)):
        if old != new:
            yield f"{where}: {old!r} against {new!r}"
    elif not math.isclose(old, new, rel_tol=tolerance, abs_tol=tolerance):
        yield f"{where}: {old} against {new}"


def main():
    write = "--write" in sys.argv[1:]
    failed = 0
    passed = 0
    for path in sorted(HERE.glob("*.py")):
        if path.name.startswith(NOT_A_TABLE):
            continue
        module = load(path)
        new = json.loads(json.dumps(module.values()))
        target = path.with_suffix(".json")
        if write:
            target.write_text(json.dumps(new, indent=1) + "\n", encoding="utf-8")
            print(f"wrote {target.name}")
            continue
        old = json.loads(target.read_text(encoding="utf-8"))
        found = list(differences(old, new, getattr(module, "TOLERANCE", 1e-6)))
        for line in found[:10]:
            print(f"{path.name}: {line}")
        failed += bool(found)
        passed += not found
    if not write:
        print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
