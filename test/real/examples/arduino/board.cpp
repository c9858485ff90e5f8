// Runs the example: board START_MS CLOCK_SET_MS LOST_FROM_MS LOST_TO_MS UNTIL_MS
#include <stdlib.h>

#include "Arduino.h"
#include "MQTT.h"
#include SKETCH

int main(int, char **arguments) {
  startMs = atoll(arguments[1]);
  clockSetMs = atol(arguments[2]);
  lostFromMs = atol(arguments[3]);
  lostToMs = atol(arguments[4]);
  setup();
  while (millis() < (unsigned long)atol(arguments[5])) loop();
}
