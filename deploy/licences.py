#!/usr/bin/env python3
"""Checks what the program is built from against deny.toml: licences, banned packages, sources.

Reads Cargo.lock through `cargo metadata`, so nothing is fetched or built beyond what cargo needs anyway.
`cargo deny check licenses bans sources` reads the same deny.toml and checks more (licence texts, spelling);
this takes a second and needs nothing installed. Exit code 1 names every package that does not pass.
"""

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# Refused even if somebody adds it to the list: the list must not be able to say otherwise.
GPL_FAMILY = re.compile(r"^(A|L)?GPL(-|$)", re.IGNORECASE)


class Unreadable(Exception):
    """A licence expression that this program does not understand; never taken for allowed."""


def allowed(expression: str, allow: set[str]) -> bool:
    """Whether one may choose among the OR branches so that every licence left is on the list."""
    # "MIT/Apache-2.0" is how OR was written in older packages.
    tokens = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR "))
    position = 0

    def peek() -> str | None:
        return tokens[position] if position < len(tokens) else None

    def take() -> str:
        nonlocal position
        token = peek()
        if token is None:
            raise Unreadable(expression)
        position += 1
        return token

    def any_of() -> bool:
        result = all_of()
        while peek() == "OR":
            take()
            result = all_of() or result
        return result

    def all_of() -> bool:
        result = one()
        while peek() == "AND":
            take()
            result = one() and result
        return result

    def one() -> bool:
        name = take()
        if name == "(":
            result = any_of()
            if take() != ")":
                raise Unreadable(expression)
            return result
        if name in {")", "OR", "AND", "WITH"}:
            raise Unreadable(expression)
        if peek() == "WITH":
            take()
            name = f"{name} WITH {take()}"
        return name in allow and not GPL_FAMILY.match(name)

    result = any_of()
    if peek() is not None:
        raise Unreadable(expression)
    return result


def selftest() -> None:
    """A check that lets everything through would look just like one that passes."""
    allow = {"MIT", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "GPL-3.0-only"}
    cases = {
        "MIT": True,
        "MIT/Apache-2.0": True,
        "MIT OR LGPL-2.1-or-later": True,
        "MIT AND LGPL-2.1-or-later": False,
        "(MIT OR AGPL-3.0-only) AND Apache-2.0": True,
        "MIT OR Apache-2.0 AND GPL-2.0": True,
        "(MIT OR Apache-2.0) AND GPL-2.0": False,
        "Apache-2.0 WITH LLVM-exception": True,
        "MIT WITH LLVM-exception": False,
        "GPL-3.0-only": False,
    }
    for expression, expected in cases.items():
        if allowed(expression, allow) is not expected:
            sys.exit(f"licences: the check itself is broken at {expression!r}")


def main() -> int:
    selftest()
    rules = tomllib.loads((ROOT / "deny.toml").read_text(encoding="utf-8"))
    allow = set(rules["licenses"]["allow"])
    banned = {entry["crate"]: entry["reason"] for entry in rules["bans"]["deny"]}
    metadata = subprocess.run(
        ["cargo", "metadata", "--locked", "--all-features", "--format-version", "1"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        check=False,
    )
    if metadata.returncode != 0:
        print("licences: cargo metadata failed, see above", file=sys.stderr)
        return 1
    packages = json.loads(metadata.stdout)["packages"]
    mistakes = []
    for package in packages:
        name = f"{package['name']} {package['version']}"
        source = package["source"]
        if package["name"] in banned:
            mistakes.append(f"{name}: banned: {banned[package['name']]}")
        # None is the workspace itself.
        if source is not None and not source.startswith("registry+"):
            mistakes.append(f"{name}: comes from {source}, not from the registry")
        licence = package["license"]
        try:
            if licence is None:
                mistakes.append(f"{name}: names no licence")
            elif not allowed(licence, allow):
                mistakes.append(f"{name}: {licence} is not on the list in deny.toml")
        except Unreadable:
            mistakes.append(f"{name}: cannot read the licence {licence!r}")
    # A check that found nothing to check has not passed.
    if len(packages) < 10:
        mistakes.append(f"only {len(packages)} packages found")
    for mistake in mistakes:
        print(f"licences: {mistake}", file=sys.stderr)
    if not mistakes:
        print(f"licences: {len(packages)} packages, all allowed")
    return 1 if mistakes else 0


if __name__ == "__main__":
    sys.exit(main())
