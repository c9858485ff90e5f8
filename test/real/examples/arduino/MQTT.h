// Prints what goes out as TOPIC, QOS, RETAINED and PAYLOAD, parted by tabs, and loses the link for a while.
#pragma once
#include "Arduino.h"
#include "WiFi.h"

inline unsigned long lostFromMs = 0;
inline unsigned long lostToMs = 0;

class MQTTClient {
  bool isConnected = false;
  static bool isLost() { return boardMs >= lostFromMs && boardMs < lostToMs; }

 public:
  explicit MQTTClient(int) {}
  void begin(const char *, int, WiFiClient &) {}
  void setOptions(int, bool, int) {}
  void setWill(const char *topic, const char *payload, bool retained, int qos) {
    printf("will %s\t%d\t%d\t%s\n", topic, qos, retained, payload);
  }
  bool connect(const char *, const char *, const char *) { return isConnected = !isLost(); }
  bool connected() { return isConnected; }
  bool loop() { return isConnected; }
  bool publish(const char *topic, const char *payload, bool retained, int qos) {
    if (isLost()) return isConnected = false;
    printf("%s\t%d\t%d\t%s\n", topic, qos, retained, payload);
    return true;
  }
};
