#!/usr/bin/env bash
# Publishes what another program reads: one number a line on standard input.
#
#   read-my-instrument | publish.sh home r1 liquid-temperature r1-probe
#
# Needs mosquitto_pub (Debian: `apt install mosquitto-clients`). Where the broker is, and as whom, is in
# ~/.config/mosquitto_pub, of mode 0600, where everybody on the machine does not see the password, an option a line:
#   -h 10.0.0.5
#   -u r1-probe
#   -P (what `esterwatch device add r1-probe` printed)
set -euo pipefail
if [ $# -ne 4 ]; then
  echo "use: publish.sh SITE VESSEL CHANNEL DEVICE" >&2
  exit 2
fi
topic="esterwatch/v1/reading/$1/$2/$3"
presence="esterwatch/v1/presence/$1/$4"
# A clock before 2020 was not set yet: no reading gets its time from it.
clock_set_s=1577836800

# Retained, so it stands until somebody says otherwise; the last will does if this ends without a word.
here() { mosquitto_pub -q 1 -r -t "$presence" -m here </dev/null; }

payloads() {
  local seq=0 value now_ms
  while read -r value; do
    now_ms=$(date +%s%3N)
    if [ "$now_ms" -lt "${clock_set_s}000" ]; then
      echo "$value" # stamped when it arrives
    else
      echo "{\"value\":$value,\"at\":$now_ms,\"seq\":$seq}"
    fi
    seq=$((seq + 1))
    # mosquitto_pub comes back by itself where the link was lost; by then the broker has said `gone`.
    if [ "$SECONDS" -ge 30 ]; then
      SECONDS=0
      here &
    fi
  done
}

here
payloads | mosquitto_pub -l -q 1 -k 15 -t "$topic" \
  --will-topic "$presence" --will-payload gone --will-qos 1 --will-retain
mosquitto_pub -q 1 -r -t "$presence" -m gone
