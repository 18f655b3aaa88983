/* The thermocouple converters: see sensor.c. */
#ifndef SENSOR_H
#define SENSOR_H

#include <stdint.h>

enum fault { GOOD, OPEN, GROUND, SUPPLY, ABSENT };

struct sensor {
	int32_t hundredths; /* degrees C x 100, meant only when `fault` is GOOD */
	int16_t cold;       /* the cold junction, degrees C x 100, meant unless `fault` is ABSENT */
	uint8_t fault;
};

extern struct sensor sensors[SENSORS];

void sensor_start(void);
void sensor_read(void);

#endif
