/* The board: which pin does what, and the numbers that whoever builds it may change.
 *
 * Chip: ATmega328P, 16 MHz crystal. Every number below that limits heat is checked against nonsense here.
 */
#ifndef BOARD_H
#define BOARD_H

#include <stdint.h>

#define F_CPU 16000000UL
#define BAUD 38400UL /* divides 16 MHz to within 0.2 %; 115200 would be off by 2.1 % */

#ifndef SENSORS
#define SENSORS 2 /* converters fitted, 1 to 3; a converter that is missing is a sensor at fault */
#endif
#ifndef LIMIT_C
#define LIMIT_C 950 /* any sensor here or above: heat off; set it for your kiln (make LIMIT_C=...) */
#endif

#define LIMIT_READINGS 3        /* so many in a row latch the limit; the first already ends the heat */
#define LONGEST_LEASE_MS 30000U /* a longer lease is shortened to this */
#define SILENCE_MS 10000U       /* no good line for so long: heat and main contactor off */
#define CONVERSION_MS 100U      /* common converters finish one in 70 to 100 ms */

#if SENSORS < 1 || SENSORS > 3 || LIMIT_C < 50 || LIMIT_C > 1372
#error "SENSORS is 1 to 3; LIMIT_C is 50 to 1372"
#endif

/* Outputs, on port D. High is on. Each needs a resistor of its own to ground (10 kilohm), so that it is
 * off while the chip is in reset and its pins float. */
#define HEAT (1 << 5) /* PD5 */
#define MAIN (1 << 6) /* PD6 */

/* Contacts, on port C, each closing to ground when all is well: a broken wire is not well. */
#define DOOR_CLOSED (1 << 0)   /* PC0 */
#define STOP_RELEASED (1 << 1) /* PC1 */
#define EXTRACTION (1 << 2)    /* PC2: reported, not acted upon */
#define KEY_IN (1 << 3)        /* PC3: reported, not acted upon */
#define HEAT_PROVEN (1 << 4)   /* PC4: auxiliary contact of the relay; reported */
#define MAIN_PROVEN (1 << 5)   /* PC5: auxiliary contact of the main contactor; reported */
#define CONTACTS 0x3F

/* The converters' chip selects, on port B: PB2 for the first, PB1 and PB0 for the others. */
#define SELECT(channel) (uint8_t)(4 >> (channel))
#define SELECTS 0x07
#define SPI_OUT (1 << 3)   /* PB3: not wired, but an output as the SPI master wants it */
#define SPI_CLOCK (1 << 5) /* PB5; the converters' data comes in on PB4 */

#endif
