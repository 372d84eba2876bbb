# Sourced by the scripts that drive the real window: a display in memory of their own, and the hands for it. Expects
# $program and $out. Needs Xvfb, xdotool, ImageMagick and a software Vulkan driver (Debian: xvfb xdotool imagemagick
# mesa-vulkan-drivers libxkbcommon-x11-0).
mkdir -p "$out"
unset WAYLAND_DISPLAY || true
home=$(mktemp -d)
export XDG_DATA_HOME="$home"
window=
display=
end() {
    # Waited for, so that nothing of this display is left when the next one looks for a free number.
    for ended in $window $display; do
        kill "$ended" 2>/dev/null || true
        wait "$ended" 2>/dev/null || true
    done
    rm -rf "$home"
}
trap end EXIT
fail() {
    echo "$1" >&2
    exit 1
}

# Xvfb takes a free number itself, and writes it when it is ready to be used: neither is guessed. It must not start
# anew when its last client leaves: whoever comes in that moment (the program, after xdotool has looked) is refused.
mkfifo "$home/number"
Xvfb -displayfd 3 -screen 0 1280x800x24 -noreset >"$out/display-log.txt" 2>&1 3>"$home/number" &
display=$!
read -r number <"$home/number" || fail "no display came up: $(cat "$out/display-log.txt")"
export DISPLAY=":$number"

# Starts the window, with the layout $2 if one is named, and waits until it is there; what the program writes goes to the
# file named in $1.
start() {
    "$program" ${2:+"$2"} >>"$1" 2>&1 &
    window=$!
    tries=0
    until id=$(xdotool search --name Gapwright 2>/dev/null | head -n 1) && [ -n "$id" ]; do
        tries=$((tries + 1))
        kill -0 "$window" 2>/dev/null || fail "the program ended before its window came up: $(cat "$1")"
        [ "$tries" -lt 120 ] || fail "no window came up: $(cat "$1")"
        sleep 0.5
    done
    sleep 2
    # There is no window manager here: the pointer must be over the window before anything is typed.
    xdotool mousemove 540 500 windowfocus "$id"
    sleep 1
}
key() { xdotool key "$1"; sleep 0.5; }
click() { xdotool mousemove "$1" "$2"; sleep 0.3; xdotool click 1; sleep 0.6; }
picture() { sleep 1; import -window root "$out/$1.png"; }
