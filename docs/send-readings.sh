#!/bin/sh
# Sends readings of one room to bagmark over a line that may be bad. Plain sh and
# curl. Let cron run it every five minutes:
#
#   send-readings.sh 21.7 88 1350   °C, relative humidity in %, carbon dioxide in
#                                   ppm; what the sensor lacks: leave out, or ""
#   send-readings.sh                only sends what waits
#
# It needs, in its environment:
#   BAGMARK_URL     http://192.168.1.20:8080
#   BAGMARK_TOKEN   a token of the role sensor, which can do nothing else
#   BAGMARK_PLACE   the room's eight characters, or its name
#   BAGMARK_SPOOL   a folder of its own, on a disk that keeps what is in it
#   AT              when it was read, if not now: 2026-03-14T12:05:00Z
#
# A reading is a file in the spool until the farm has answered for it. Readings
# may be sent twice: the farm keeps each once, so a lost answer does no harm.
# What the farm will never take goes to BAGMARK_SPOOL/refused, with its words.
set -eu

waiting=$BAGMARK_SPOOL/waiting
refused=$BAGMARK_SPOOL/refused
mkdir -p "$waiting" "$refused"

if [ $# -gt 0 ]; then
  at=${AT:-$(date -u +%Y-%m-%dT%H:%M:%SZ)}
  reading="{\"at\":\"$at\""
  [ -z "${1:-}" ] || reading="$reading,\"temp_c\":$1"
  [ -z "${2:-}" ] || reading="$reading,\"rh_pct\":$2"
  [ -z "${3:-}" ] || reading="$reading,\"co2_ppm\":$3"
  printf '%s}' "$reading" > "$BAGMARK_SPOOL/new.$$"
  mv "$BAGMARK_SPOOL/new.$$" "$waiting/$at.$$" # whole or not at all
fi

work=$(mktemp -d "$BAGMARK_SPOOL/sending.XXXXXX")
trap 'rm -rf "$work"' EXIT

# The oldest first, 500 at a time, until nothing waits or the farm is out of reach.
while ls "$waiting" | sort | head -n 500 > "$work/names" && [ -s "$work/names" ]; do
  {
    printf '{"place":"%s","readings":[' "$BAGMARK_PLACE"
    comma=
    while read -r name; do
      printf '%s' "$comma"
      cat "$waiting/$name"
      comma=,
    done < "$work/names"
    printf ']}'
  } > "$work/body"

  # The token goes in by a file, so that a list of processes does not show it.
  (umask 077 && printf 'header = "Authorization: Bearer %s"\n' "$BAGMARK_TOKEN" > "$work/config")
  status=$(curl --silent --max-time 20 --config "$work/config" --header 'Content-Type: application/json' \
    --data-binary "@$work/body" --output "$work/answer" --write-out '%{http_code}' \
    "$BAGMARK_URL/api/v1/readings") || status=000

  case $status in
  200 | 201)
    # Of several readings some may have been refused, each with its reason.
    grep -q '"refused":\[\]' "$work/answer" || cp "$work/answer" "$refused/answer.$$.$(date +%s)"
    while read -r name; do rm -f "$waiting/$name"; done < "$work/names"
    ;;
  400)
    cp "$work/answer" "$refused/answer.$$.$(date +%s)"
    while read -r name; do mv -f "$waiting/$name" "$refused/"; done < "$work/names"
    ;;
  *)
    echo "send-readings: the farm answered $status; $(wc -l < "$work/names") readings wait" >&2
    exit 1
    ;;
  esac
done
