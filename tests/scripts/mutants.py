#!/usr/bin/env python3
"""Mutation testing of what numbers come from.

Changes an operator of the code at a time (+ to -, < to >=, && to ||, -x to x …)
and asks whether a test notices. Every change is woven into one copy of the
sources and switched by an environment variable, so that a single build serves
all of them and a change costs only the tests that are run on it.

    tests/scripts/mutants.py weave TREE [--count 600] [MODULE…]
        copies the sources to TREE, weaves the changes in, leaves out those
        that do not compile, builds the tests; a spread of --count changes over
        the modules named (geometry, calibration, working_length, curvature,
        uncertainty and agreement where none is)
    tests/scripts/mutants.py run TREE [--jobs 2]
        runs the tests on every change and prints those that none noticed

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
import time

MODULES = ["geometry", "calibration", "working_length", "curvature", "uncertainty", "agreement"]
VARIABLE = "LENGTHFILM_CHANGE"
SWAPS = {
    "+": "-", "-": "+", "*": "/", "/": "*", "%": "/",
    "<": ">=", ">=": "<", ">": "<=", "<=": ">", "==": "!=", "!=": "==",
    "&&": "||", "||": "&&",
    "+=": "-=", "-=": "+=", "*=": "/=", "/=": "*=",
}
WOVEN = '''//! Changes under test, switched from outside.

/// Change `id` is on.
pub fn on(id: u32) -> bool {
    static CHANGE: std::sync::LazyLock<u32> = std::sync::LazyLock::new(|| {
        let set = std::env::var("%s").ok();
        set.and_then(|text| text.parse().ok()).unwrap_or(u32::MAX)
    });
    *CHANGE == id
}
''' % VARIABLE
# Tests of tests/it that concern numbers, the quick ones first; a change that
# one of them notices is not shown to the rest.
GROUPS = [
    ["geometry::", "distances::", "agreement::", "agreement_many::"],
    ["curvature::", "uncertainty::", "scale_checks::", "untraced::"],
    ["measure::", "measure_uncertainty::"],
    ["difficulty::", "families::", "instrumentation::", "grading::"],
]
# Of tests that take seconds: what takes this long does not end any more.
SECONDS_A_RUN = 60


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


def run_tests(program, filters, tree, number, threads):
    """Whether the tests notice, and in how many seconds."""
    environment = {**os.environ, VARIABLE: str(number), "RUST_TEST_THREADS": str(threads)}
    begun = time.monotonic()
    try:
        ran = subprocess.run([program, "-q", *filters], cwd=tree, env=environment,
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                             timeout=SECONDS_A_RUN)
        noticed = ran.returncode != 0
    except subprocess.TimeoutExpired:
        noticed = True
    return noticed, time.monotonic() - begun


def run(arguments):
    tree = pathlib.Path(arguments.tree).resolve()
    changes = json.loads((tree / "changes.json").read_text())
    programs = json.loads((tree / "programs.json").read_text())
    if arguments.programs:
        folder = pathlib.Path(arguments.programs).resolve()
        programs = {kind: str(folder / kind) for kind in programs}
    groups = [("lib", [m + "::" for m in MODULES])] + [("test", group) for group in GROUPS]
    for kind, filters in groups:
        noticed, seconds = run_tests(programs[kind], filters, tree, 4294967295, arguments.jobs)
        print(f"unchanged, {kind} {' '.join(filters)}: {seconds:.0f} s", flush=True)
        if noticed:
            sys.exit("tests fail without any change")
    ends_at = time.monotonic() + arguments.seconds

    def judge(change):
        for place, (kind, filters) in enumerate(groups):
            if time.monotonic() > ends_at:
                return change, "not finished"
            noticed, _ = run_tests(programs[kind], filters, tree, change["change"], 1)
            if noticed:
                return change, f"noticed by {kind} {place}"
        print("missed: {file}:{line}: `{of}` to `{to}` in `{in}`".format(**change), flush=True)
        return change, "missed"

    with concurrent.futures.ThreadPoolExecutor(arguments.jobs) as pool:
        judged = list(pool.map(judge, changes))
    print("== counts by module: changes, noticed, missed, not finished")
    by_module = {}
    for change, outcome in judged:
        counts = by_module.setdefault(change["file"].split("/")[1], [0, 0, 0])
        counts[0 if outcome.startswith("noticed") else 1 if outcome == "missed" else 2] += 1
    for module, (noticed, missed, open_) in by_module.items():
        print(f"| {module} | {noticed + missed + open_} | {noticed} | {missed} | {open_} |")


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
