// Copy to secrets.h and fill in. `esterwatch device add r1-probe --site home` prints the password of the device.
#define WIFI_NAME "the network"
#define WIFI_PASSWORD "its password"
#define TIME_SERVER "pool.ntp.org"
#define BROKER "10.0.0.5"
#define BROKER_PORT 1883
// A device that is named after its vessel counts for it. Names: small letters, digits, hyphens.
#define DEVICE "r1-probe"
#define PASSWORD "what device add printed"
#define SITE "home"
#define VESSEL "r1"
#define CHANNEL "liquid-temperature"
