#!/usr/bin/env bash
# Takes the pictures of docs/images anew: the real window on a virtual display.
# Needs Xvfb, xdotool, ImageMagick and a built program:
#   cargo build --release && tests/scripts/retake_pictures.sh target/release/lengthfilm
set -euo pipefail
cd "$(dirname "$0")/../.."
program="$(realpath "${1:-target/release/lengthfilm}")"
# A folder whose name tells nothing of this machine.
samples=/tmp/films
out="$PWD/docs/images"
work="$(mktemp -d)"
pids=()
finish() {
    for pid in "${pids[@]}"; do kill "$pid" 2>/dev/null || true; done
    rm -rf "$work" "$samples"
}
trap finish EXIT
cp -r "$PWD/sample-images" "$samples"

# screen WIDTH HEIGHT: a display of its own in $DISPLAY
screen() {
    exec 7<>"$work/display.$RANDOM"
    Xvfb -displayfd 7 -nolisten tcp -screen 0 "$1x$2x24" >/dev/null 2>&1 &
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
    xdotool windowfocus --sync "$window"
    sleep 4
}

# take FILE: the whole screen, in few colours
take() {
    import -window root "$work/shot.png"
    convert "$work/shot.png" -colors 128 -define png:compression-level=9 "PNG8:$out/$1"
    echo "$1"
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

screen 2480 1320
export WINIT_X11_SCALE_FACTOR=2
open premolar-35-s-bend "$samples/premolar-35-s-bend.case.json"
take window-2x.png
unset WINIT_X11_SCALE_FACTOR
shut
