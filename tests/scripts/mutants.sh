#!/usr/bin/env bash
# Mutation testing of what numbers come from: changes the code in small ways
# and asks whether a test notices. Prints the mutants that no test noticed.
#
#   tests/scripts/mutants.sh [SHARD/SHARDS] [MODULE…]
#
# A whole run takes hours; `tests/scripts/mutants.sh 1/40` takes a fortieth of
# the mutants, spread over all modules. Needs cargo-mutants
# (cargo install --locked cargo-mutants). Each mutant is built without the
# window, and only the tests of the library and of tests/it that concern
# numbers are run.
set -euo pipefail
cd "$(dirname "$0")/../.."

shard="1/1"
if [[ "${1:-}" =~ ^[0-9]+/[0-9]+$ ]]; then
    shard="$1"
    shift
fi
modules=("$@")
[ "${#modules[@]}" -gt 0 ] ||
    modules=(geometry calibration working_length curvature uncertainty agreement)
command -v cargo-mutants >/dev/null || { echo "cargo-mutants is not installed"; exit 1; }

files=()
for module in "${modules[@]}"; do
    [ -d "src/$module" ] || { echo "no module src/$module"; exit 1; }
    files+=(--file "src/$module/**/*.rs")
done

# Shards count from 0 there.
first=$((${shard%/*} - 1))
cargo mutants "${files[@]}" --shard "$first/${shard#*/}" --sharding round-robin \
    --no-default-features --baseline skip --timeout 600 --jobs "${JOBS:-1}" \
    --output target -- --lib --test it || true
echo "== not noticed by any test"
cat target/mutants.out/missed.txt
echo "== counts"
for outcome in caught missed unviable timeout; do
    echo "$outcome $(wc -l <target/mutants.out/$outcome.txt)"
done
