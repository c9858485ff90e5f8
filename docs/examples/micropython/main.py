# A 1-Wire thermometer (DS18B20 and its kin) on a board with MicroPython and WiFi that publishes once a second.
# Needs umqtt.simple (`mpremote mip install umqtt.simple`). Names and passwords are in settings.json beside this file,
# which stays out of what you share: see settings.example.json.

import json
import time

import ds18x20
import machine
import network
import ntptime
import onewire
from umqtt.simple import MQTTClient

# Of the thermometer's wire, with 4.7 kΩ to 3.3 V (common practice, no source).
WIRE = 4
EVERY_MS = 1000
# So many readings are kept while the link is down: five minutes.
MOST_KEPT = 300
# What goes out in one message.
MOST_TOGETHER = 20
# A board that waits for a broker that has gone without a word is started anew after this.
HANGS_AFTER_MS = 60_000
KEEPALIVE_S = 15
# A clock before 2020 was not set yet: no reading gets its time from it.
CLOCK_SET_S = 1_577_836_800
# Boards count from 2000, computers from 1970.
EPOCH_S = 946_684_800 if time.gmtime(0)[0] == 2000 else 0

with open("settings.json") as file:
    settings = json.load(file)
TOPIC = "esterwatch/v1/reading/{site}/{vessel}/{channel}".format(**settings).encode()
PRESENCE = "esterwatch/v1/presence/{site}/{device}".format(**settings).encode()

wire = ds18x20.DS18X20(onewire.OneWire(machine.Pin(WIRE)))
wlan = network.WLAN(network.STA_IF)
kept = []  # (epoch ms, °C, seq), oldest first


def started_watchdog():
    """What is to be called while all goes on; nothing on a board whose watchdog cannot wait for so long."""
    try:
        return machine.WDT(timeout=HANGS_AFTER_MS).feed
    except ValueError:
        return lambda: None


def epoch_ms():
    """Epoch ms, or None while the clock is not set. Whole seconds: a board's clock says no less."""
    seconds = time.time() + EPOCH_S
    return int(seconds * 1000) if seconds >= CLOCK_SET_S else None


def set_clock():
    try:
        ntptime.settime()
    except OSError:
        pass  # No time server: plain numbers go out, stamped when they arrive.


def connected():
    """A client that the broker has let in and that has said `here`, or None."""
    if not wlan.isconnected():
        return None
    client = MQTTClient(
        settings["device"],
        settings["broker"],
        port=settings.get("port", 1883),
        user=settings["device"],
        password=settings["password"],
        keepalive=KEEPALIVE_S,
    )
    client.set_last_will(PRESENCE, b"gone", retain=True, qos=1)
    try:
        client.connect()
        client.publish(PRESENCE, b"here", retain=True, qos=1)
        return client
    except Exception as error:  # MQTTException (refused) is none of OSError.
        print("broker:", error)
        return None


def publish(client, text):
    # umqtt.simple counts its messages on and on, past the 65,535 that MQTT has numbers for.
    if client.pid > 60_000:
        client.pid = 0
    client.publish(TOPIC, text.encode(), qos=1)


def send_kept(client):
    """The oldest ones as an array; they are let go of once the broker has said that it has them."""
    together = kept[:MOST_TOGETHER]
    publish(client, json.dumps([{"value": value, "at": at, "seq": seq} for at, value, seq in together]))
    del kept[: len(together)]


def look(thermometer, seq, client):
    value = round(wire.read_temp(thermometer), 2)
    at = epoch_ms()
    if at is None:
        # Nobody could tell later when it was: a plain number now, stamped when it arrives, or nothing.
        if client is not None:
            publish(client, str(value))
        return
    if len(kept) == MOST_KEPT:
        kept.pop(0)
    kept.append((at, value, seq))


def run():
    feed_watchdog = started_watchdog()
    wlan.active(True)
    wlan.connect(settings["wifi"], settings["wifi_password"])
    thermometer = None
    client = None
    retry_ms = 1000
    tried = time.ticks_ms()
    seq = 0
    while True:
        begun = time.ticks_ms()
        feed_watchdog()
        if client is None and time.ticks_diff(begun, tried) >= retry_ms:
            tried = begun
            if epoch_ms() is None and wlan.isconnected():
                set_clock()
            client = connected()
            # After a second, then after twice as long each time, up to half a minute.
            retry_ms = 1000 if client is not None else min(2 * retry_ms, 30_000)
        try:
            if thermometer is None:
                thermometer = (wire.scan() or [None])[0]
            if thermometer is not None:
                wire.convert_temp()
                time.sleep_ms(750)  # What the conversion takes at 12 bits, by the maker's data sheet.
                look(thermometer, seq, client)
                seq += 1
        except Exception as error:
            # A wire that was pulled out, or a bad checksum: no reading, and the daemon says that it is late.
            print("thermometer:", error)
            thermometer = None
        try:
            while client is not None and kept:
                send_kept(client)
                feed_watchdog()
        except Exception as error:
            print("link:", error)
            client = None
        time.sleep_ms(max(0, EVERY_MS - time.ticks_diff(time.ticks_ms(), begun)))


run()
