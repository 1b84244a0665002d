"""Known vulnerabilities of what the program is installed with, as pip-audit finds them.

It is fetched from the package index that pip is set up with, and asks its database over the net. Where that cannot be
reached, or has nothing on versions that are known to be vulnerable, nothing was audited: a row says so.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from importlib.metadata import distributions
from pathlib import Path
from typing import TYPE_CHECKING, Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.benchmarks.table import Row
from tests.installing import INSTALL, make_environment

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Versions with a published vulnerability: an audit that passes one of them has not looked. CVE-2020-1747 is in PyYAML
#: before 5.3.1, CVE-2019-11324 in urllib3 before 1.24.2 (both as published by MITRE, from memory).
KNOWN = ("pyyaml==5.3", "urllib3==1.24.1")


def run() -> Iterator[Row]:
    """Yield how many packages were looked at, and how many of them have a known vulnerability."""
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        python = make_environment(there / "auditor")
        asked = [str(python), "-m", "pip", *INSTALL, "pip-audit"]
        got = subprocess.run(asked, capture_output=True, text=True, check=False)
        if got.returncode:
            yield _skip(f"pip-audit cannot be had: {_last(got.stderr)}")
            return
        control, reason = _audit(python, there, KNOWN)
        if reason or not all(each.get("vulns") for each in control):
            yield _skip(reason or "the database has nothing on versions that are known to be vulnerable")
            return
        found, reason = _audit(python, there, sorted(find_installed()))
        if reason:
            yield _skip(reason)
            return
    told = [each for each in found if "skip_reason" not in each]
    yield Row("packages of the program and its film extra looked at", len(told), "packages")
    yield Row("not to be found in the database", len(found) - len(told), "packages")
    wrong = [
        f"{each['name']} {each['version']}: {', '.join(v['id'] for v in each['vulns'])}"
        for each in told
        if each["vulns"]
    ]
    yield Row("with a known vulnerability", len(wrong), "; ".join(wrong) or "packages", floor=0)


def find_installed() -> set[str]:
    """Return what the program and its film extra need, directly or not, as pinned in the running environment."""
    here = {canonicalize_name(each.name): each for each in distributions()}
    pinned, waiting = set(), [("tempo-coach", frozenset({"film"}))]
    seen = set()
    while waiting:
        name, extras = waiting.pop()
        if (name, extras) in seen or name not in here:
            continue
        seen.add((name, extras))
        if name != "tempo-coach":
            pinned.add(f"{name}=={here[name].version}")
        for text in here[name].requires or ():
            each = Requirement(text)
            environments = [{"extra": extra} for extra in ("", *extras)]
            if each.marker is None or any(each.marker.evaluate(environment) for environment in environments):
                waiting.append((canonicalize_name(each.name), frozenset(each.extras)))
    return pinned


def _audit(python: Path, folder: Path, pinned: list[str] | tuple[str, ...]) -> tuple[list[dict[str, Any]], str]:
    """What is told of pinned packages, or why nothing is."""
    (folder / "pinned.txt").write_text("\n".join(pinned), encoding="utf-8")
    command = [str(python), "-m", "pip_audit", "--no-deps", "--disable-pip", "--progress-spinner", "off"]
    done = subprocess.run(
        [*command, "--timeout", "20", "--format", "json", "-r", str(folder / "pinned.txt")],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    try:
        return json.loads(done.stdout)["dependencies"], ""
    except (ValueError, KeyError):
        return [], f"the database cannot be reached: {_last(done.stderr)}"


def _last(text: str) -> str:
    return (text.strip().splitlines() or ["no reason is given"])[-1][:200]


def _skip(reason: str) -> Row:
    return Row("audit of the dependencies: SKIPPED", float("nan"), reason)
