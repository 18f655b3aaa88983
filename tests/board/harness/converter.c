/* Stand-ins for the thermocouple converters: SPI devices that answer with 32 bits, as sensor.c says. */
#include "harness.h"

#include <string.h>

#include <simavr/avr_spi.h>

#define SELECTS 0x07
#define ABSENT_WORD 0xFFFFFFFFu /* nobody drives the wire; the chip's input reads high */

static struct {
	int quarters, sixteenths;
	uint32_t fault; /* bits to set */
	bool absent;
} state[CHANNELS];

static uint8_t selected;
static uint32_t word;
static unsigned left;

static uint32_t word_of(unsigned channel)
{
	if (state[channel].absent)
		return ABSENT_WORD;
	uint32_t fault = state[channel].fault;
	return (uint32_t)(state[channel].quarters & 0x3FFF) << 18 | (uint32_t)(state[channel].sixteenths & 0xFFF) << 4
	       | (fault ? fault | 0x10000u : 0);
}

static uint8_t select_lines(void)
{
	unsigned ddr = 0x24, port = 0x25; /* of port B */
	return (uint8_t)(chip->data[ddr] & ~chip->data[port]) & SELECTS;
}

/* A falling select line takes the converter's word; called whenever the port is written. */
void converter_watch(void)
{
	uint8_t now = select_lines();
	if (now == selected)
		return;
	selected = now;
	left = 4;
	word = now == 4 ? word_of(0) : now == 2 ? word_of(1) : now == 1 ? word_of(2) : ABSENT_WORD;
}

static void exchanged(avr_irq_t *irq, uint32_t value, void *nothing)
{
	(void)irq;
	(void)value;
	(void)nothing;
	uint8_t byte = 0xFF;
	if (selected && left)
		byte = (uint8_t)(word >> (--left * 8));
	avr_raise_irq(avr_io_getirq(chip, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT), byte);
}

void converter_wire(void)
{
	avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_OUTPUT), exchanged, NULL);
	for (unsigned channel = 0; channel < CHANNELS; channel++) {
		state[channel].quarters = 20 * 4;
		state[channel].sixteenths = 25 * 16;
	}
}

void converter_set(unsigned channel, int quarters)
{
	state[channel].quarters = quarters;
}

void converter_cold(unsigned channel, int sixteenths)
{
	state[channel].sixteenths = sixteenths;
}

bool converter_fault(unsigned channel, const char *kind)
{
	static const char *const kinds[] = {"open", "ground", "supply", "none", "absent", "unsaid"};
	for (unsigned i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
		if (strcmp(kind, kinds[i]) != 0)
			continue;
		state[channel].fault = i < 3 ? 1u << i : i == 5 ? 0x10000u : 0;
		state[channel].absent = i == 4;
		return true;
	}
	return false;
}
