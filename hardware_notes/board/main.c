/* The loop: carry out what a good line asks, read the sensors, feed the watchdog.
 *
 * The watchdog is fed only when this loop and the timer's interrupt both live. The messages are described
 * in protocol.md.
 */
#include "board.h"
#include "heat.h"
#include "line.h"
#include "sensor.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/fuse.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#define PROTOCOL 1
#define ERROR_UNKNOWN 1
#define ERROR_FIELDS 2
#define SHORTEST 10 /* ">SS K CCCC" */
#define ORDER 18    /* ">SS H LLLLL M CCCC" */

/* Crystal; slow start; watchdog that cannot be switched off; brown-out reset at 4.3 V. */
FUSES = {
	.low = 0xFF,
	.high = FUSE_SPIEN & FUSE_WDTON,
	.extended = FUSE_BODLEVEL0 & FUSE_BODLEVEL1,
};

static void say_temperature(int32_t hundredths, uint8_t digits)
{
	say(hundredths < 0 ? '-' : '+');
	say_number((uint32_t)(hundredths < 0 ? -hundredths : hundredths), digits);
	say(' ');
}

static void say_sensor(const struct sensor *sensor)
{
	static const char words[][8] = {"", "OPEN...", "GROUND.", "SUPPLY.", "ABSENT."};
	if (sensor->fault == GOOD) {
		say_temperature(sensor->hundredths, 6);
	} else {
		for (const char *c = words[sensor->fault]; *c; c++)
			say(*c);
		say(' ');
	}
	say_temperature(sensor->fault == ABSENT ? 0 : sensor->cold, 5);
}

static void answer_status(uint8_t sequence)
{
	say_start(sequence, 'S');
	struct heat heat = heat_now();
	say_hex(heat.flags, 2);
	say(' ');
	say_hex(heat.contacts, 2);
	say(' ');
	say_hex(heat.pins, 1);
	say(' ');
	say_hex(heat.cause, 1);
	say(' ');
	say_number(heat.lease_ms, 5);
	say(' ');
	for (uint8_t channel = 0; channel < SENSORS; channel++)
		say_sensor(&sensors[channel]);
	say_end();
}

static void answer_identity(uint8_t sequence)
{
	say_start(sequence, 'I');
	say_number(PROTOCOL, 2);
	say(' ');
	say_number(SENSORS, 1);
	say(' ');
	say_number(LIMIT_C, 4);
	say(' ');
	say_number(LONGEST_LEASE_MS, 5);
	say(' ');
	say_number(SILENCE_MS, 5);
	say(' ');
	say_number(line_bad(), 3);
	say(' ');
	say_end();
}

static void answer_error(uint8_t sequence, uint8_t error)
{
	say_start(sequence, 'E');
	say_hex(error, 1);
	say(' ');
	say_end();
}

/* Carry out ">SS H LLLLL M CCCC"; false when its fields are not as they should be. */
static bool order(const char *line)
{
	uint32_t lease_ms = 0;
	for (uint8_t i = 6; i < 11; i++) {
		if (line[i] < '0' || line[i] > '9')
			return false;
		lease_ms = lease_ms * 10 + (uint8_t)(line[i] - '0');
	}
	if (line[11] != ' ' || (line[12] != '0' && line[12] != '1'))
		return false;
	heat_order(lease_ms, line[12] == '1');
	return true;
}

/* Carry out and answer a line. One that is damaged changes nothing and gets no answer. */
static void obey(const char *line, uint8_t length)
{
	uint16_t sequence, sum;
	if (length < SHORTEST || !hex_value(line + length - 4, 4, &sum) || sum != checksum(line, length - 4)
	    || !hex_value(line + 1, 2, &sequence) || line[3] != ' ' || line[5] != ' ' || line[length - 5] != ' ') {
		line_count_bad();
		return;
	}
	heat_heard();
	char kind = line[4];
	if (length != (kind == 'H' ? ORDER : SHORTEST) || (kind == 'H' && !order(line))) {
		answer_error((uint8_t)sequence, ERROR_FIELDS);
		return;
	}
	if (kind == 'A')
		heat_acknowledge();
	if (kind == 'H' || kind == 'R' || kind == 'A')
		answer_status((uint8_t)sequence);
	else if (kind == 'I')
		answer_identity((uint8_t)sequence);
	else
		answer_error((uint8_t)sequence, ERROR_UNKNOWN);
}

int main(void)
{
	char line[LINE_MAX];
	uint8_t length, last = 0, waited_ms = 0;
	heat_start();
	sensor_start();
	line_start();
	set_sleep_mode(SLEEP_MODE_IDLE);
	sei();
	for (;;) {
		sleep_mode(); /* until the next interrupt: a millisecond at most */
		uint8_t passed_ms = (uint8_t)(heat_ticks() - last);
		if (passed_ms) {
			wdt_reset();
			last += passed_ms;
			waited_ms += passed_ms;
		}
		if (line_take(line, &length))
			obey(line, length);
		if (waited_ms >= CONVERSION_MS) {
			waited_ms = 0;
			sensor_read();
		}
	}
}
