#!/usr/bin/env python3
"""Mutation testing of what numbers come from.

Changes an operator of the code at a time (+ to -, < to >=, && to ||, -x to x …)
and asks whether a test notices. Every change is woven into one copy of the
sources and switched by an environment variable, so that a single build serves
all of them and a change costs only the tests that are run on it.

    tests/scripts/mutants.py weave TREE [MODULE…] [--count 600]
        copies the sources to TREE, weaves the changes in, leaves out those
        that do not compile, builds the tests; a spread of --count changes over
        the modules named (geometry, calibration, working_length, curvature,
        uncertainty and agreement where none is)
    tests/scripts/mutants.py run TREE [--jobs 2]
        runs every test once to see which changes it comes by, then on every
        change the tests that come by it, the quick ones first, and prints the
        changes that none noticed; a second run goes on where one was stopped

Needs tree_sitter and tree_sitter_rust from PyPI for the first. The code of
tests, constants and macros is left alone.
"""

import argparse
import concurrent.futures
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import threading
import time

MODULES = ["geometry", "calibration", "working_length", "curvature", "uncertainty", "agreement"]
VARIABLE = "LENGTHFILM_CHANGE"
SWAPS = {
    "+": "-", "-": "+", "*": "/", "/": "*", "%": "/",
    "<": ">=", ">=": "<", ">": "<=", "<=": ">", "==": "!=", "!=": "==",
    "&&": "||", "||": "&&",
    "+=": "-=", "-=": "+=", "*=": "/=", "/=": "*=",
}
REACHED = "LENGTHFILM_REACHED"
WOVEN = '''//! Changes under test, switched from outside.

use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::LazyLock;

static CHANGE: LazyLock<u32> = LazyLock::new(|| {
    let set = std::env::var("%s").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(u32::MAX)
});
static REACHED: LazyLock<Option<std::fs::File>> = LazyLock::new(|| {
    let path = std::env::var_os("%s")?;
    std::fs::OpenOptions::new().append(true).create(true).open(path).ok()
});
static SEEN: [AtomicBool; 16384] = [const { AtomicBool::new(false) }; 16384];

/// Change `id` is on. Notes that it was asked, where that is wanted.
pub fn on(id: u32) -> bool {
    if let Some(mut file) = REACHED.as_ref()
        && !SEEN[id as usize].swap(true, Ordering::Relaxed)
    {
        let _ = file.write_all(format!("{id}\\n").as_bytes());
    }
    *CHANGE == id
}
''' % (VARIABLE, REACHED)
# Tests of tests/it that concern numbers.
PARTS = [
    "agreement::", "agreement_many::", "assessment::", "curvature::", "difficulty::",
    "distances::", "families::", "followed::", "geometry::", "grading::", "instrumentation::",
    "measure::", "measure_uncertainty::", "progress::", "scale_checks::", "shaping::",
    "two_view::", "uncertainty::", "uncertainty_edges::", "untraced::",
]
# Tests of one change are run in portions that take about this long.
PORTIONS_S = [1.0, 4.0, 15.0, 60.0]


def is_left_alone(node, source):
    """Code that runs while compiling, or only in tests."""
    kind = node.type
    if kind in ("const_item", "static_item", "array_type", "macro_invocation", "enum_variant"):
        return True
    if kind == "function_item":
        words = [c for c in node.children if c.type == "function_modifiers"]
        if any(b"const" in source[w.start_byte:w.end_byte] for w in words):
            return True
    previous = node.prev_named_sibling
    while previous is not None and previous.type in ("attribute_item", "line_comment"):
        text = source[previous.start_byte:previous.end_byte]
        if previous.type == "attribute_item" and b"test" in text:
            return True
        previous = previous.prev_named_sibling
    return False


def changes_of(node, source, found):
    """Every place below `node` that can be changed: (node, operator, new)."""
    if is_left_alone(node, source):
        return
    if node.type in ("binary_expression", "compound_assignment_expr"):
        operator = node.child_by_field_name("operator")
        text = source[operator.start_byte:operator.end_byte].decode()
        whole = source[node.start_byte:node.end_byte]
        # A chain with `let` is no expression.
        if text in SWAPS and not (text in ("&&", "||") and re.search(rb"\blet\b", whole)):
            found.append((node, operator, SWAPS[text]))
    if node.type == "unary_expression":
        operator = node.children[0]
        text = source[operator.start_byte:operator.end_byte].decode()
        if text in ("-", "!"):
            found.append((node, operator, ""))
    for child in node.children:
        changes_of(child, source, found)


def rendered(node, source, chosen):
    """The text of `node` with the chosen changes below it woven in."""
    def children():
        out, at = b"", node.start_byte
        for child in node.children:
            out += source[at:child.start_byte] + rendered(child, source, chosen)
            at = child.end_byte
        return out + source[at:node.end_byte]

    change = chosen.get((node.start_byte, node.end_byte, node.type))
    if change is None:
        return children() if node.children else source[node.start_byte:node.end_byte]
    number, operator, new = change
    as_it_is = children()
    # The operator is a child of its own: only its own text is exchanged.
    changed, at = b"", node.start_byte
    for child in node.children:
        own = new.encode() if child == operator else rendered(child, source, chosen)
        changed += source[at:child.start_byte] + own
        at = child.end_byte
    return b"(if crate::woven::on(%d) { %s } else { %s })" % (number, changed, as_it_is)


def weave(arguments):
    import tree_sitter
    import tree_sitter_rust

    root = pathlib.Path(__file__).resolve().parents[2]
    tree = pathlib.Path(arguments.tree).resolve()
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_rust.language()))
    for folder in ("src", "tests"):
        shutil.rmtree(tree / folder, ignore_errors=True)
    shutil.copytree(root, tree, dirs_exist_ok=True,
                    ignore=shutil.ignore_patterns("target", ".git"))
    files = {}
    places = []
    for module in arguments.modules or MODULES:
        for path in sorted((root / "src" / module).rglob("*.rs")):
            source = path.read_bytes()
            found = []
            parsed = parser.parse(source)
            changes_of(parsed.root_node, source, found)
            name = str(path.relative_to(root))
            files[name] = (source, parsed)
            places += [(name, *place) for place in found]
    step = max(len(places) / arguments.count, 1)
    kept = [places[int(i * step)] for i in range(min(arguments.count, len(places)))]
    print(f"{len(places)} places, {len(kept)} taken")
    (tree / "src/woven.rs").write_text(WOVEN)
    library = tree / "src/lib.rs"
    text = (root / "src/lib.rs").read_text()
    allowed = "#![allow(warnings, arithmetic_overflow, unconditional_panic)]\n"
    split = text.index("pub mod agreement;")
    library.write_text(text[:split] + allowed + "pub mod woven;\n" + text[split:])
    left_out = set()
    while True:
        ranges = write_woven(tree, files, kept, left_out)
        fresh = that_do_not_compile(tree, ranges)
        if not fresh:
            break
        left_out |= fresh
        print(f"{len(left_out)} do not compile", flush=True)
    listed = []
    for number, (name, node, operator, new) in enumerate(kept):
        if number in left_out:
            continue
        source = files[name][0]
        whole = source[node.start_byte:node.end_byte].decode()
        listed.append({
            "change": number, "file": name, "line": operator.start_point[0] + 1,
            "of": source[operator.start_byte:operator.end_byte].decode(), "to": new,
            "in": " ".join(whole.split())[:100],
        })
    (tree / "changes.json").write_text(json.dumps(listed, indent=0))
    built = subprocess.run(
        ["cargo", "test", "--no-run", "--lib", "--test", "it", "--message-format=json"],
        cwd=tree, stdout=subprocess.PIPE, text=True, check=True)
    programs = {}
    for line in built.stdout.splitlines():
        message = json.loads(line)
        if message.get("executable") and message.get("profile", {}).get("test"):
            programs[message["target"]["kind"][0]] = message["executable"]
    (tree / "programs.json").write_text(json.dumps(programs))
    print(f"{len(listed)} changes woven into {tree}")


def write_woven(tree, files, kept, left_out):
    """Writes the woven files; where each change lies in them, in bytes."""
    ranges = {}
    for name, (source, parsed) in files.items():
        chosen = {
            (node.start_byte, node.end_byte, node.type): (number, operator, new)
            for number, (of, node, operator, new) in enumerate(kept)
            if of == name and number not in left_out
        }
        text = rendered(parsed.root_node, source, chosen)
        # What lies before and after the outermost node.
        root = parsed.root_node
        text = source[:root.start_byte] + text + source[root.end_byte:]
        path = tree / name
        if path.read_bytes() != text:
            path.write_bytes(text)
        for number in (n for n, _, _ in chosen.values()):
            mark = b"(if crate::woven::on(%d) {" % number
            at = text.index(mark)
            depth, end = 0, at
            for end in range(at, len(text)):
                depth += {40: 1, 41: -1}.get(text[end], 0)
                if depth == 0:
                    break
            ranges.setdefault(name, []).append((at, end + 1, number))
    return ranges


def that_do_not_compile(tree, ranges):
    """The innermost change around every error of the compiler."""
    ran = subprocess.run(["cargo", "check", "--lib", "--message-format=json"],
                         cwd=tree, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    guilty, errors = set(), []
    for line in ran.stdout.splitlines():
        message = json.loads(line).get("message") or {}
        if not isinstance(message, dict) or message.get("level") != "error":
            continue
        spans = [s for s in message["spans"]] + [
            s for child in message.get("children", []) for s in child["spans"]]
        own = set()
        for span in spans:
            around = [r for r in ranges.get(span["file_name"], [])
                      if r[0] <= span["byte_start"] and span["byte_end"] <= r[1]]
            if around:
                own.add(min(around, key=lambda r: r[1] - r[0])[2])
        guilty |= own
        if spans and not own:
            errors.append(message["rendered"])
    if ran.returncode != 0 and not guilty:
        sys.exit("the compiler complains of what was not changed:\n" + "".join(errors[:3]))
    return guilty


def environment_of(number, reached=None):
    """One thread a process: as many changes as cores are judged at once."""
    environment = {**os.environ, VARIABLE: str(number), "RUST_TEST_THREADS": "1"}
    if reached is not None:
        environment[REACHED] = str(reached)
    return environment


def names_of_tests(kind, program, tree):
    """The tests of a program that concern numbers."""
    filters = [] if kind == "lib" else PARTS
    listed = subprocess.run([program, "--list", "--format", "terse", *filters], cwd=tree,
                            stdout=subprocess.PIPE, text=True, check=True).stdout
    return [line.removesuffix(": test") for line in listed.splitlines() if line.endswith(": test")]


def come_by(tree, programs, jobs):
    """For every test its seconds and the changes that it comes by."""
    kept = tree / "come_by.json"
    if kept.exists():
        return json.loads(kept.read_text())

    def one(test):
        kind, name = test
        reached = tree / f"reached.{kind}.{name.replace(':', '.')}"
        reached.unlink(missing_ok=True)
        begun = time.monotonic()
        ran = subprocess.run([programs[kind], "-q", "--exact", name], cwd=tree,
                             env=environment_of(4294967295, reached),
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        seconds = time.monotonic() - begun
        by = sorted({int(line) for line in reached.read_text().split()}) if reached.exists() else []
        reached.unlink(missing_ok=True)
        return {"kind": kind, "name": name, "seconds": seconds, "by": by,
                "passed": ran.returncode == 0}

    tests = [(kind, name) for kind in programs
             for name in names_of_tests(kind, programs[kind], tree)]
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        found = list(pool.map(one, tests))
    failed = [test["name"] for test in found if not test["passed"]]
    if failed:
        print("left out, they fail without any change: " + ", ".join(failed), flush=True)
    passed = [test for test in found if test["passed"]]
    kept.write_text(json.dumps(passed))
    return passed


def portions(tests):
    """Tests by their time, in portions that grow; each of one program."""
    waiting = sorted(tests, key=lambda test: test["seconds"])
    for limit in PORTIONS_S + [float("inf")]:
        taken, seconds = [], 0.0
        while waiting and (seconds + waiting[0]["seconds"] <= limit or not taken):
            taken.append(waiting.pop(0))
            seconds += taken[-1]["seconds"]
        for kind in ("lib", "test"):
            own = [test for test in taken if test["kind"] == kind]
            if own:
                yield kind, own
        if not waiting:
            return


def noticed_by(kind, tests, programs, tree, number):
    """Whether one of the tests fails with the change; one that does not end does."""
    usual = sum(test["seconds"] for test in tests)
    try:
        ran = subprocess.run(
            [programs[kind], "-q", "--exact", *(test["name"] for test in tests)], cwd=tree,
            env=environment_of(number), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            timeout=30 + 10 * usual)
    except subprocess.TimeoutExpired:
        return True
    return ran.returncode != 0


def run(arguments):
    tree = pathlib.Path(arguments.tree).resolve()
    changes = json.loads((tree / "changes.json").read_text())
    programs = json.loads((tree / "programs.json").read_text())
    if arguments.programs:
        folder = pathlib.Path(arguments.programs).resolve()
        programs = {kind: str(folder / kind) for kind in programs}
    tests = come_by(tree, programs, arguments.jobs)
    seconds = sum(test["seconds"] for test in tests)
    print(f"{len(tests)} tests, {seconds:.0f} s one by one", flush=True)
    ends_at = time.monotonic() + arguments.seconds
    kept = tree / "judged.json"
    judged = json.loads(kept.read_text()) if kept.exists() else {}
    lock = threading.Lock()

    def judge(change):
        number = change["change"]
        if str(number) in judged:
            return
        own = [test for test in tests if number in test["by"]]
        outcome = "missed" if own else "not run by any test"
        for kind, some in portions(own):
            if time.monotonic() > ends_at:
                return
            if noticed_by(kind, some, programs, tree, number):
                outcome = "noticed"
                break
        with lock:
            judged[str(number)] = outcome
            kept.write_text(json.dumps(judged))
        if outcome != "noticed":
            print("{0}: {file}:{line}: `{of}` to `{to}` in `{in}`".format(outcome, **change),
                  flush=True)

    with concurrent.futures.ThreadPoolExecutor(arguments.jobs) as pool:
        list(pool.map(judge, changes))
    print("== by module: changes, noticed, missed, of these run by no test, not judged")
    by_module = {}
    for change in changes:
        outcome = judged.get(str(change["change"]), "open")
        by_module.setdefault(change["file"].split("/")[1], []).append(outcome)
    for module, outcomes in by_module.items():
        unreached = outcomes.count("not run by any test")
        missed = outcomes.count("missed") + unreached
        print(f"| {module} | {len(outcomes)} | {outcomes.count('noticed')} | {missed} "
              f"| {unreached} | {outcomes.count('open')} |")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    verbs = parser.add_subparsers(required=True)
    one = verbs.add_parser("weave")
    one.add_argument("tree")
    one.add_argument("modules", nargs="*")
    one.add_argument("--count", type=int, default=600)
    one.set_defaults(work=weave)
    two = verbs.add_parser("run")
    two.add_argument("tree")
    two.add_argument("--jobs", type=int, default=2)
    two.add_argument("--seconds", type=float, default=1e9, help="stop after so many")
    two.add_argument("--programs", help="folder of the built tests, where they were moved")
    two.set_defaults(work=run)
    arguments = parser.parse_args()
    arguments.work(arguments)


main()
