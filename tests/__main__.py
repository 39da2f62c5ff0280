"""Every check in one command: lint, types, layers, tests, and the browser where it can be had.

python -m tests            everything
python -m tests --quick    without the browser
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SYSTEM_BROWSERS = ("chromium", "chromium-browser")


def run(*command: str, **extra: str) -> int:
    """Run one check from the top of the project; its exit code."""
    print("$", " ".join(command), flush=True)
    return subprocess.run(command, cwd=ROOT, env={**os.environ, **extra}, check=False).returncode


def tool(name: str) -> str:
    """Path of a tool installed beside this Python."""
    beside = Path(sys.executable).parent / name
    return str(beside) if beside.exists() else name


def find_browser() -> str | None:
    """Path of a Chromium on this machine; it is installed where none is found.

    Tried in turn: the variable SWARDWRIGHT_CHROMIUM, a system Chromium, Debian's package (as
    root), and Playwright's own downloader. None means that the downloader's browser is used.
    """
    told = os.environ.get("SWARDWRIGHT_CHROMIUM")
    found = told or next((path for name in SYSTEM_BROWSERS if (path := shutil.which(name))), None)
    if found is None and shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        run("apt-get", "update", "-qq")
        run("apt-get", "install", "-y", "-qq", "chromium", DEBIAN_FRONTEND="noninteractive")
        found = next((path for name in SYSTEM_BROWSERS if (path := shutil.which(name))), None)
    if found is None and run(sys.executable, "-m", "playwright", "install", "--with-deps", "chromium") != 0:
        print("No Chromium could be had: install one, or name it in SWARDWRIGHT_CHROMIUM.", file=sys.stderr)
        raise SystemExit(1)
    return found


def main(arguments: list[str]) -> int:
    """Run the checks in turn and stop at the first that fails."""
    quick = "--quick" in arguments
    checks = [
        (tool("ruff"), "check", "app", "knowledge", "demo_data", "tests"),
        (tool("ruff"), "format", "--check", "app", "knowledge", "demo_data", "tests"),
        (tool("mypy"),),
        (sys.executable, "-m", "app", "knowledge", "check"),
    ]
    for check in checks:
        if code := run(*check):
            return code
    code = run(sys.executable, "-m", "pytest", "-n", "2", "-m", "not browser and not benchmark")
    if code or quick:
        return code
    browser = find_browser()
    extra = {"SWARDWRIGHT_CHROMIUM": browser} if browser else {}
    return run(sys.executable, "-m", "pytest", "-m", "browser", "tests/browser", **extra)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
