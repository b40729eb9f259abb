#!/usr/bin/env bash
# Takes the pictures of docs/images anew: the real window on a virtual display.
# Needs Xvfb, xdotool, ImageMagick and a built program:
#   cargo build --release && tests/scripts/retake_pictures.sh target/release/lengthfilm
set -euo pipefail
cd "$(dirname "$0")/../.."
program="$(realpath "${1:-target/release/lengthfilm}")"
# A folder of our own whose name tells nothing of this machine: the file chooser
# shows it. One that is there already is somebody else's.
samples=/tmp/lengthfilm-pictures
mkdir "$samples"
out="$PWD/docs/images"
work="$(mktemp -d)"
pids=()
finish() {
    for pid in "${pids[@]}"; do kill "$pid" 2>/dev/null || true; done
    rm -rf "$work" "$samples"
}
trap finish EXIT
cp "$PWD"/sample-images/* "$samples"

# screen WIDTH HEIGHT: a display of its own in $DISPLAY
screen() {
    exec 7<>"$work/display.$RANDOM"
    Xvfb -displayfd 7 -nolisten tcp -noreset -screen 0 "$1x$2x24" >/dev/null 2>&1 &
    pids+=($!)
    for _ in $(seq 100); do
        number="$(cat /proc/self/fd/7 2>/dev/null | head -1)"
        [ -n "$number" ] && break
        sleep 0.1
    done
    export DISPLAY=":$number"
    unset WAYLAND_DISPLAY
}

# open NAME ARGUMENT...: the program in a home of its own; its window has the keyboard
open() {
    local name="$1"
    shift
    home="$(mktemp -d "$work/home.XXXX")"
    HOME="$home" XDG_DATA_HOME="$home" XDG_CONFIG_HOME="$home" LIBGL_ALWAYS_SOFTWARE=1 \
        "$program" "$@" >/dev/null 2>&1 &
    app=$!
    pids+=("$app")
    for _ in $(seq 300); do
        window="$(xdotool search --onlyvisible --name "$name" 2>/dev/null | head -1 || true)"
        [ -n "$window" ] && break
        sleep 0.2
    done
    [ -n "$window" ] || { echo "no window named $name" >&2; exit 1; }
    xdotool windowfocus --sync "$window"
    sleep 4
}

# take FILE: the whole screen, in few colours
take() {
    import -window root "$work/shot.png"
    convert "$work/shot.png" -colors 128 -define png:compression-level=9 "PNG8:$out/$1"
    echo "$1"
}

# click X Y: the left button
click() {
    xdotool mousemove --sync "$1" "$2"
    sleep 0.3
    xdotool click 1
    sleep 0.6
}

shut() {
    kill "$app"
    wait "$app" 2>/dev/null || true
}

screen 1240 660
open molar-36-short "$samples/molar-36-short.case.json"
xdotool mousemove 620 640
sleep 1
take window.png
xdotool key F3
sleep 2
take light.png
xdotool key F3 key k
xdotool mousemove 1100 450
for _ in $(seq 12); do xdotool click 5; done
sleep 2
take curvature.png
xdotool key Escape key ctrl+o
sleep 2
take file-chooser.png
shut

# A case with files listed, as it would be saved.
cp "$samples/premolar-35-s-bend.png" "$work"
python3 - "$samples/premolar-35-s-bend.case.json" "$work/premolar-35.case.json" <<'END'
import json, sys
case = json.load(open(sys.argv[1]))
case["canals"][0]["shaping_files"] = [
    {"size": 10, "taper": 0.02},
    {"size": 25, "taper": 0.06},
    {"size": 30, "taper": 0.02, "step_back_mm": 1.0},
]
json.dump(case, open(sys.argv[2], "w"))
END
open premolar-35 "$work/premolar-35.case.json"
xdotool key ctrl+shift+i
sleep 6
take instrument.png
shut

# One tooth on two films 30 degrees apart; the pointer rests on film A.
"$program" phantom --seed 12 --out "$work/pair/seed" >/dev/null
python3 - "$work/pair" <<'END'
import json, sys
folder = sys.argv[1]
spec = json.load(open(f"{folder}/seed/truth.json"))["spec"]
spec["view"]["quarter_turns"] = 0
spec["canal"]["bends"][0]["plane_deg"] = 50.0
for name, turn in (("a", 0.0), ("b", 30.0)):
    spec["view"]["turn_deg"] = turn
    json.dump(spec, open(f"{folder}/{name}.json", "w"))
END
for name in a b; do
    "$program" phantom --spec "$work/pair/$name.json" --out "$work/pair/$name" >/dev/null
    mv "$work/pair/$name/demo.case.json" "$work/pair/$name/$name.case.json"
done
python3 - "$work/pair/a/a.case.json" <<'END'
import json, sys
case = json.load(open(sys.argv[1]))
case["second_film"] = {"case": "../b/b.case.json", "angle_deg": 30.0}
json.dump(case, open(sys.argv[1], "w"))
END
open a.case.json "$work/pair/a/a.case.json"
xdotool key ctrl+shift+t
sleep 12
xdotool mousemove 365 330
sleep 2
take two-films.png
shut

# A class of 48 students, some of whom handed in twice; nobody of these names.
python3 - "$samples/molar-36-short.case.json" "$samples/class" <<'END'
import json, os, random, sys
source, folder = sys.argv[1:]
os.makedirs(folder)
case = json.load(open(source))
draw = random.Random(7)
given = ["Ada", "Bea", "Cai", "Dov", "Eva", "Fay", "Gil", "Hal"]
trees = ["Alder", "Cedar", "Elm", "Hazel", "Larch", "Rowan"]
film = os.path.basename(case["film"]["path"])
os.link(os.path.join(os.path.dirname(source), film), os.path.join(folder, film))
for number in range(60):
    student = f"{given[number % 8]} {trees[number // 8 % 6]}"
    one = json.loads(json.dumps(case))
    spread = draw.choice([1.0, 2.0, 4.0, 8.0, 14.0])
    for canal in one["canals"]:
        canal["trace_px"] = [
            [x + draw.gauss(0, spread), y + draw.gauss(0, spread)] for x, y in canal["trace_px"]
        ]
        canal["apex_px"] = [x + draw.gauss(0, spread) for x in canal["apex_px"]]
        canal["trace_px"][-1] = canal["apex_px"]
    one["student"] = {"name": student, "attempt": 1 + number // 48}
    json.dump(one, open(f"{folder}/{number:02}.case.json", "w"))
open(f"{folder}/torn.case.json", "w").write("{")
END
open molar-36-short "$samples/molar-36-short.case.json"
xdotool key ctrl+g
sleep 1
# The open case is a reference; the folder by its path; Grade.
click 510 215
click 400 373
xdotool type --delay 20 "$samples/class"
click 797 373
click 340 515
sleep 25
click 60 280
sleep 2
take class.png
shut

screen 2480 1320
export WINIT_X11_SCALE_FACTOR=2
open premolar-35-s-bend "$samples/premolar-35-s-bend.case.json"
take window-2x.png
unset WINIT_X11_SCALE_FACTOR
shut
