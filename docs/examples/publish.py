#!/usr/bin/env python3
"""Publishes what another program reads: one number a line on standard input.

    python3 read-my-instrument.py | python3 publish.py settings.json

Needs paho-mqtt, 1.6 or 2 (Debian: `apt install python3-paho-mqtt`). The settings, with the password of the device in
them, lie in a file of mode 0600 beside it: see settings.example.json.
"""

import json
import sys
import time

import paho.mqtt.client as mqtt

# So many readings are kept while the link is down: an hour at one a second.
MOST_KEPT = 3600
KEEPALIVE_S = 15
# At the end what is kept is waited for so long, s.
GOODBYE_S = 60
# A clock before 2020 was not set yet: no reading gets its time from it.
CLOCK_SET_S = 1_577_836_800


def payload(value: float, seq: int) -> str:
    now = time.time()
    if now < CLOCK_SET_S:
        return str(value)  # stamped when it arrives
    return json.dumps({"value": value, "at": int(now * 1000), "seq": seq})


def open_client(settings: dict, presence: str) -> mqtt.Client:
    name = settings["device"]
    if hasattr(mqtt, "CallbackAPIVersion"):
        client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id=name)
    else:
        client = mqtt.Client(client_id=name)
    client.username_pw_set(name, settings["password"])
    client.will_set(presence, "gone", qos=1, retain=True)
    client.max_queued_messages_set(MOST_KEPT)
    client.reconnect_delay_set(min_delay=1, max_delay=30)

    def on_connect(client, _userdata, _flags, result, _properties=None):
        if result == 0:
            client.publish(presence, "here", qos=1, retain=True)
        else:
            print(f"the broker does not let {name} in: {result}", file=sys.stderr)

    client.on_connect = on_connect
    # Tries by itself, now and after each loss, and sends again what was not acknowledged.
    client.connect_async(settings["broker"], settings.get("port", 1883), KEEPALIVE_S)
    client.loop_start()
    return client


def main() -> None:
    with open(sys.argv[1]) as file:
        settings = json.load(file)
    topic = "esterwatch/v1/reading/{site}/{vessel}/{channel}".format(**settings)
    presence = "esterwatch/v1/presence/{site}/{device}".format(**settings)
    client = open_client(settings, presence)
    for seq, line in enumerate(sys.stdin):
        try:
            value = float(line)
        except ValueError:
            print(f"no number: {line.strip()!r}", file=sys.stderr)
            continue
        published = client.publish(topic, payload(value, seq), qos=1)
        if published.rc == mqtt.MQTT_ERR_QUEUE_SIZE:
            print("more is kept than there is room for: this reading is lost", file=sys.stderr)
    until = time.monotonic() + GOODBYE_S
    while not client.is_connected() and time.monotonic() < until:
        time.sleep(0.1)
    if client.is_connected():
        # The last of what is kept: once it is acknowledged, so is what was before it.
        client.publish(presence, "gone", qos=1, retain=True).wait_for_publish(GOODBYE_S)
    else:
        print("the broker is not reached: what is kept is lost", file=sys.stderr)
    client.disconnect()
    client.loop_stop()


if __name__ == "__main__":
    main()
