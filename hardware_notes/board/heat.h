/* Heat as a lease: see heat.c. */
#ifndef HEAT_H
#define HEAT_H

#include <stdbool.h>
#include <stdint.h>

/* Flags, as they go over the line. All but CAPPED refuse heat while they stand. */
#define RESTARTED 0x01 /* since a reset that nobody has acknowledged */
#define LIMIT 0x02     /* the temperature limit has latched; only a power cycle clears it */
#define OVER 0x04      /* a sensor is at or above the limit */
#define SENSOR 0x08    /* a sensor is at fault */
#define SILENT 0x10    /* the line was silent; the next order clears it */
#define STOP 0x20      /* the emergency stop is pressed, or its wire is broken */
#define DOOR 0x40      /* the door is open, or its wire is broken */
#define CAPPED 0x80    /* the last lease was longer than the board allows and was shortened */

struct heat {
	uint8_t flags;
	uint8_t contacts;
	uint8_t pins; /* as read back: bit 0 heat, bit 1 main contactor */
	uint8_t cause;
	uint16_t lease_ms;
};

void heat_start(void);
void heat_order(uint32_t lease_ms, bool main_contactor);
void heat_heard(void);
void heat_acknowledge(void);
void heat_sensed(bool over, bool fault);
struct heat heat_now(void);
uint8_t heat_ticks(void);

#endif
