#!/bin/sh
# Drives the real window under a virtual display as a newcomer would: draws two blocks with a gap, feeds them, saves,
# and compares with the command line. Leaves pictures.
#
#   scripts/real-window.sh PROGRAM FOLDER
#
# Needs Xvfb, xdotool, ImageMagick and a software Vulkan driver (Debian: xvfb xdotool imagemagick mesa-vulkan-drivers
# libxkbcommon-x11-0).
set -eu
program=$1
out=$2
mkdir -p "$out"
rm -f "$out"/first.gapwright "$out"/*.png
number=80
while [ -e "/tmp/.X$number-lock" ]; do number=$((number + 1)); done
export DISPLAY=:$number
unset WAYLAND_DISPLAY || true
Xvfb "$DISPLAY" -screen 0 1280x800x24 >/dev/null 2>&1 &
display=$!
home=$(mktemp -d)
export XDG_DATA_HOME="$home"
window=
trap 'kill $window $display 2>/dev/null || true; rm -rf "$home"' EXIT
sleep 1
"$program" >"$out/log.txt" 2>&1 &
window=$!
tries=0
until id=$(xdotool search --name Gapwright 2>/dev/null | head -n 1) && [ -n "$id" ]; do
    tries=$((tries + 1))
    [ "$tries" -lt 60 ] || { echo "no window came up" >&2; exit 1; }
    sleep 0.5
done
sleep 2
xdotool windowmove "$id" 0 0 windowsize "$id" 1280 800
# There is no window manager here: the pointer must be over the window before anything is typed.
xdotool mousemove 540 500 windowfocus "$id"
sleep 1
key() { xdotool key "$1"; sleep 0.5; }
click() { xdotool mousemove "$1" "$2"; sleep 0.3; xdotool click 1; sleep 0.6; }
picture() { sleep 1; import -window root "$out/$1.png"; }
picture 1-empty
key l
click 300 300
click 780 300
key Escape
key c
click 540 300
key f
click 400 300
click 660 300
key s
picture 2-short
click 540 281
picture 3-card
key ctrl+shift+s
xdotool key ctrl+a
xdotool type --delay 30 "$out/first.gapwright"
sleep 0.5
key Return
picture 4-saved
[ -s "$out/first.gapwright" ] || { echo "the layout was not saved" >&2; exit 1; }
status=0
"$program" check "$out/first.gapwright" >"$out/check.txt" || status=$?
[ "$status" -eq 1 ] || { echo "expected the idle-clamp short, exit status 1, got $status" >&2; exit 1; }
grep -q 'idle-clamp' "$out/check.txt"
echo "the real window: drawn, fed, saved, checked; pictures in $out"
