#!/usr/bin/env bash
# Builds the Debian package, installs it in a clean root made for it and uses
# it there: the commands as an ordinary user, and the window on a virtual
# display outside the root, so that no library of the display helps.
#
#     tests/scripts/debian_package.sh [MIRROR [SUITE]]
#
# MIRROR and SUITE are those of this machine's own package sources unless
# given. Needs root, cargo-deb, dpkg-dev, debootstrap, Xvfb, xdotool and
# ImageMagick. Leaves the package in target/debian and the window's picture in
# target/debian/window.png.
set -euo pipefail
cd "$(dirname "$0")/../.."

for program in cargo-deb dpkg-shlibdeps debootstrap Xvfb xdotool import convert; do
    command -v "$program" >/dev/null || { echo "needs $program" >&2; exit 2; }
done
[ "$(id -u)" = 0 ] || { echo "needs root, to make a root of its own" >&2; exit 2; }

# The first release file of the distribution that is this machine's own.
. /etc/os-release
suite=${2:-$VERSION_CODENAME}
mirror=${1:-$(apt-get indextargets --format '$(CODENAME) $(REPO_URI)' \
    'Created-By: Packages' | sed -n "s/^$suite //p" | head -n 1)}
[ -n "$mirror" ] || { echo "no package source of $suite is known: name a mirror" >&2; exit 2; }

root=$(mktemp -d)
chmod 755 "$root"
display_pid=
cleanup() {
    [ -z "$display_pid" ] || kill "$display_pid" 2>/dev/null || true
    for mounted in proc dev/shm dev/pts; do
        ! mountpoint -q "$root/$mounted" || umount "$root/$mounted"
    done
    rm -rf --one-file-system "$root"
}
trap cleanup EXIT

inside() {
    env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 \
        DEBIAN_FRONTEND=noninteractive chroot "$root" "$@"
}
user_environment=(env -i PATH=/usr/sbin:/usr/bin HOME=/home/reader LANG=C.UTF-8)
in_root=(chroot --userspec=reader "$root")
as_user() { "${user_environment[@]}" "${in_root[@]}" "$@"; }

echo "== package"
cargo build --locked --release --bin lengthfilm --example packaging
target/release/examples/packaging target/packaging
package=$(cargo deb --locked --no-build | tail -n 1)
dpkg-deb --field "$package" Package Version Depends Recommends

echo "== clean root"
debootstrap --variant=minbase "$suite" "$root" "$mirror" >"$root.log" ||
    { tail "$root.log" >&2; exit 1; }
rm "$root.log"
mount -t proc proc "$root/proc"
mkdir -p "$root/dev/shm" "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=666 devpts "$root/dev/pts"
before=$(inside dpkg-query -f '.\n' -W | wc -l)

echo "== installation"
cp "$package" "$root/lengthfilm.deb"
inside apt-get update -qq
# Only what the package depends on, and the database its MIME type goes into.
inside apt-get install -qq -y --no-install-recommends /lengthfilm.deb shared-mime-info \
    desktop-file-utils >/dev/null
echo "$(($(inside dpkg-query -f '.\n' -W | wc -l) - before)) packages installed"
inside grep -x '60:application/x-lengthfilm-case+json:\*.case.json' /usr/share/mime/globs2
inside desktop-file-validate /usr/share/applications/lengthfilm.desktop
# The lean root leaves manual pages out; the package must still hold them.
dpkg-deb --contents "$package" | grep -o 'usr/share/man/man1/lengthfilm.1.gz'

echo "== commands, as an ordinary user"
inside useradd --create-home reader
for part in case.json png; do
    install -m 644 "sample-images/molar-36-short.$part" "$root/home/reader/"
done
case_file=molar-36-short.case.json
as_user lengthfilm --version
as_user sh -c "cd && lengthfilm measure $case_file --json" >"$root/inside.json"
(cd sample-images && ../target/release/lengthfilm measure "$case_file" --json) >"$root/outside.json"
cmp "$root/inside.json" "$root/outside.json"
echo "measure: the same bytes inside and outside the root"
as_user sh -c "cd && lengthfilm report $case_file --out record.pdf && test -s record.pdf"

echo "== window"
mkfifo "$root/display"
Xvfb -displayfd 1 -screen 0 1280x720x24 >"$root/display" 2>/dev/null &
display_pid=$!
read -r number <"$root/display"
export DISPLAY=:$number
# Not through the function: the number must be that of the window itself.
"${user_environment[@]}" DISPLAY="$DISPLAY" LIBGL_ALWAYS_SOFTWARE=1 "${in_root[@]}" \
    sh -c "cd && exec lengthfilm $case_file" &
window_pid=$!
timeout 60 xdotool search --sync --onlyvisible --name Lengthfilm >/dev/null
sleep 8
kill -0 "$window_pid" || { echo "the window closed by itself" >&2; exit 1; }
import -window root target/debian/window.png
kill "$window_pid"
wait "$window_pid" || true
# The film is drawn: a blank or failed window has a handful of greys.
greys=$(convert target/debian/window.png -colorspace gray -depth 8 -unique-colors \
    -format '%w' info:)
echo "window: $greys greys in target/debian/window.png"
[ "$greys" -gt 100 ]
echo "== passed"
