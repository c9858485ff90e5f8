// A 1-Wire thermometer (DS18B20 and its kin) on an ESP32 or ESP8266 that publishes once a second.
// Libraries, by the Library Manager: "MQTT" (lwmqtt; it can QoS 1), "OneWire", "DallasTemperature".
// Names and passwords are in secrets.h, which stays out of what you share: see secrets.example.h.

#include <DallasTemperature.h>
#include <MQTT.h>
#include <OneWire.h>
#include <sys/time.h>
#include <time.h>
#ifdef ESP8266
#include <ESP8266WiFi.h>
#else
#include <WiFi.h>
#endif

#include "secrets.h"

// Of the thermometer's wire, with 4.7 kΩ to 3.3 V (common practice, no source).
const int WIRE = 4;
const unsigned long EVERY_MS = 1000;
// So many readings are kept while the link is down: ten minutes. 16 bytes each.
const int MOST_KEPT = 600;
// What goes out in one message: 20 readings of at most 70 characters fit into the buffer with the topic.
const int MOST_TOGETHER = 20;
const int BUFFER_BYTES = 2048;
// A clock before 2020 was not set yet: no reading gets its time from it.
const long long CLOCK_SET_MS = 1577836800000LL;

const char TOPIC[] = "esterwatch/v1/reading/" SITE "/" VESSEL "/" CHANNEL;
const char PRESENCE[] = "esterwatch/v1/presence/" SITE "/" DEVICE;

struct Reading {
  long long atMs;  // epoch ms
  float celsius;
  uint32_t seq;
};

OneWire wire(WIRE);
DallasTemperature thermometer(&wire);
WiFiClient network;
MQTTClient mqtt(BUFFER_BYTES);

// Oldest first, in a ring.
Reading kept[MOST_KEPT];
int first = 0;
int count = 0;
uint32_t seq = 0;
unsigned long lookedMs = 0;
unsigned long triedMs = 0;
unsigned long retryMs = 1000;

long long nowMs() {
  timeval now;
  gettimeofday(&now, nullptr);
  return 1000LL * now.tv_sec + now.tv_usec / 1000;
}

void setup() {
  thermometer.begin();
  // What it measures is fetched a second later: waiting for it would hold up the link.
  thermometer.setWaitForConversion(false);
  thermometer.requestTemperatures();
  WiFi.mode(WIFI_STA);
  WiFi.begin(WIFI_NAME, WIFI_PASSWORD);
  configTime(0, 0, TIME_SERVER);
  mqtt.begin(BROKER, BROKER_PORT, network);
  // Not heard for 22 s: the broker says `gone` for it. An acknowledgement is waited for 5 s: the disk may be slow.
  mqtt.setOptions(15, true, 5000);
  mqtt.setWill(PRESENCE, "gone", true, 1);
}

// Tries again after a second, then after twice as long each time, up to half a minute.
void connectAgain() {
  if (WiFi.status() != WL_CONNECTED || millis() - triedMs < retryMs) return;
  triedMs = millis();
  if (mqtt.connect(DEVICE, DEVICE, PASSWORD) && mqtt.publish(PRESENCE, "here", true, 1))
    retryMs = 1000;
  else
    retryMs = retryMs < 16000 ? 2 * retryMs : 30000;
}

void look() {
  float celsius = thermometer.getTempCByIndex(0);
  thermometer.requestTemperatures();
  long long atMs = nowMs();
  if (atMs < CLOCK_SET_MS) {
    // Nobody could tell later when it was: a plain number now, stamped when it arrives, or nothing.
    char plain[16];
    snprintf(plain, sizeof plain, "%.2f", celsius);
    if (mqtt.connected()) mqtt.publish(TOPIC, plain, false, 1);
    return;
  }
  if (count == MOST_KEPT) {
    // The oldest goes.
    first = (first + 1) % MOST_KEPT;
    count--;
  }
  kept[(first + count++) % MOST_KEPT] = {atMs, celsius, seq++};
}

// The oldest ones as an array; they are let go of once the broker has said that it has them.
void sendKept() {
  char text[MOST_TOGETHER * 70 + 2];
  int together = count < MOST_TOGETHER ? count : MOST_TOGETHER;
  int length = 0;
  for (int i = 0; i < together; i++) {
    const Reading &one = kept[(first + i) % MOST_KEPT];
    length += snprintf(text + length, sizeof text - length, "%c{\"value\":%.2f,\"at\":%lld,\"seq\":%lu}", i == 0 ? '[' : ',',
                       one.celsius, one.atMs, (unsigned long)one.seq);
  }
  snprintf(text + length, sizeof text - length, "]");
  if (!mqtt.publish(TOPIC, text, false, 1)) return;
  first = (first + together) % MOST_KEPT;
  count -= together;
}

void loop() {
  mqtt.loop();
  if (!mqtt.connected()) connectAgain();
  if (millis() - lookedMs >= EVERY_MS) {
    lookedMs += EVERY_MS;
    look();
  }
  if (count > 0 && mqtt.connected()) sendKept();
  delay(10);
}
