/* The thermocouple converters, on SPI: 32 bits each, read only.
 *
 *   31..18  thermocouple, two's complement, a count is 0.25 C
 *   17      always 0
 *   16      1: one of the faults below
 *   15..4   cold junction, two's complement, a count is 0.0625 C
 *   3       always 0
 *   2 1 0   short to supply, short to ground, open
 *
 * A word that no working converter sends (all bits alike, a bit set that is always 0, a fault without
 * its kind) means that the converter is not there.
 */
#include "board.h"
#include "heat.h"
#include "sensor.h"

#include <avr/io.h>

struct sensor sensors[SENSORS];

void sensor_start(void)
{
	for (uint8_t channel = 0; channel < SENSORS; channel++)
		sensors[channel].fault = ABSENT; /* until it has been read */
	PORTB = SELECTS;
	DDRB = SELECTS | SPI_OUT | SPI_CLOCK;
	SPCR = 1 << SPE | 1 << MSTR | 1 << SPR0; /* mode 0, 1 MHz; common converters take up to 5 MHz */
}

/* One byte, or 0xFF when the SPI does not finish: the wait has an end whatever happens. */
static uint8_t take_byte(void)
{
	SPDR = 0;
	for (uint16_t tries = 1000; tries; tries--)
		if (SPSR & (1 << SPIF))
			return SPDR;
	return 0xFF;
}

static uint32_t take_word(uint8_t channel)
{
	uint32_t word = 0;
	PORTB = SELECTS & (uint8_t)~SELECT(channel);
	for (uint8_t i = 0; i < 4; i++)
		word = word << 8 | take_byte();
	PORTB = SELECTS;
	return word;
}

static uint8_t fault_in(uint32_t word)
{
	if (word == 0 || word == 0xFFFFFFFF || word & 0x00020008)
		return ABSENT;
	if (word & 1)
		return OPEN;
	if (word & 2)
		return GROUND;
	if (word & 4)
		return SUPPLY;
	return word & 0x00010000 ? ABSENT : GOOD;
}

/* Read every converter and tell `heat` what was found. */
void sensor_read(void)
{
	bool over = false, fault = false;
	for (uint8_t channel = 0; channel < SENSORS; channel++) {
		uint32_t word = take_word(channel);
		struct sensor *sensor = &sensors[channel];
		int16_t quarters = (int16_t)(word >> 16) >> 2;
		int16_t sixteenths = (int16_t)word >> 4;
		sensor->fault = fault_in(word);
		sensor->hundredths = quarters * 25L;
		sensor->cold = (int16_t)(sixteenths * 25L / 4); /* rounded towards zero */
		fault |= sensor->fault != GOOD;
		over |= sensor->fault == GOOD && quarters >= LIMIT_C * 4;
	}
	heat_sensed(over, fault);
}
