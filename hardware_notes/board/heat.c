/* Heat as a lease, counted by the chip's own timer; and the one function that drives the outputs.
 *
 * `drive` runs every millisecond from the timer's interrupt, and once within every order. Nothing else
 * writes port D, but for the first instructions after a reset, which can only switch off. What ends a
 * lease ends it for good: when the cause is gone, heat waits for a new order.
 */
#include "board.h"
#include "heat.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <util/atomic.h>

#define NO_HEAT (RESTARTED | LIMIT | OVER | SENSOR | SILENT | STOP | DOOR)
#define NO_MAIN (RESTARTED | LIMIT | SILENT | STOP)

static volatile uint8_t flags;
static volatile uint8_t contacts;
static volatile bool main_wanted;
static volatile uint16_t lease_ms;
static volatile uint16_t silent_ms;
static volatile uint8_t ticks;

/* Kept through a reset: why the chip was reset, and the limit's latch. Anything but the one pattern for
 * "not latched" is latched. */
#define NOT_LATCHED 0x5A
static uint8_t cause __attribute__((section(".noinit")));
static uint8_t latch[2] __attribute__((section(".noinit")));

/* The first instructions after a reset, before there are variables: outputs off, watchdog on. */
void first(void) __attribute__((naked, used, section(".init3")));
void first(void)
{
	PORTD = 0;
	DDRD = HEAT | MAIN;
	cause = MCUSR;
	MCUSR = 0;
	wdt_enable(WDTO_250MS);
}

/* Decide and drive the outputs. Interrupts are off. */
static void drive(uint8_t elapsed_ms)
{
	contacts = (uint8_t)~PINC & CONTACTS;
	lease_ms = lease_ms > elapsed_ms ? lease_ms - elapsed_ms : 0;
	if (silent_ms < SILENCE_MS)
		silent_ms += elapsed_ms;
	uint8_t now = flags & (uint8_t)~(STOP | DOOR);
	if (silent_ms >= SILENCE_MS)
		now |= SILENT;
	if (!(contacts & STOP_RELEASED))
		now |= STOP;
	if (!(contacts & DOOR_CLOSED))
		now |= DOOR;
	flags = now;
	if (now & NO_HEAT)
		lease_ms = 0;
	if (now & NO_MAIN)
		main_wanted = false;
	PORTD = (lease_ms ? HEAT : 0) | (main_wanted ? MAIN : 0);
}

ISR(TIMER0_COMPA_vect)
{
	drive(1);
	ticks++;
}

void heat_start(void)
{
	if (cause & (1 << PORF)) {
		latch[0] = NOT_LATCHED;
		latch[1] = (uint8_t)~NOT_LATCHED;
	}
	bool latched = latch[0] != NOT_LATCHED || latch[1] != (uint8_t)~NOT_LATCHED;
	flags = RESTARTED | SENSOR | (latched ? LIMIT : 0); /* SENSOR until the first conversion is in */
	PORTC = CONTACTS;                                    /* pull-ups */
	TCCR0A = 1 << WGM01;                                 /* count to OCR0A and begin again */
	OCR0A = F_CPU / 64 / 1000 - 1;                       /* 1 ms exactly */
	TIMSK0 = 1 << OCIE0A;
	TCCR0B = 1 << CS01 | 1 << CS00; /* a 64th of the clock */
}

/* Heat for so long from now (0: off now), if nothing refuses it; move the main contactor. */
void heat_order(uint32_t asked_ms, bool main_contactor)
{
	bool capped = asked_ms > LONGEST_LEASE_MS;
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
	{
		flags = (flags & (uint8_t)~(SILENT | CAPPED)) | (capped ? CAPPED : 0);
		lease_ms = capped ? LONGEST_LEASE_MS : (uint16_t)asked_ms;
		main_wanted = main_contactor;
		drive(0);
	}
}

/* A good line has come. */
void heat_heard(void)
{
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { silent_ms = 0; }
}

void heat_acknowledge(void)
{
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { flags &= (uint8_t)~RESTARTED; }
}

/* What one round of conversions says. The first reading over the limit ends the heat, several latch it. */
void heat_sensed(bool over, bool fault)
{
	static uint8_t in_a_row;
	in_a_row = over ? in_a_row + 1 : 0;
	bool latched = in_a_row >= LIMIT_READINGS;
	if (latched) {
		latch[0] = latch[1] = 0;
		in_a_row = LIMIT_READINGS;
	}
	uint8_t found = (over ? OVER : 0) | (fault ? SENSOR : 0) | (latched ? LIMIT : 0);
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { flags = (flags & (uint8_t)~(OVER | SENSOR)) | found; }
}

struct heat heat_now(void)
{
	struct heat now;
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
	{
		uint8_t port = PIND; /* the pins' own level, not what was written */
		now = (struct heat){flags, contacts, (port & HEAT ? 1 : 0) | (port & MAIN ? 2 : 0), cause & 0x0F, lease_ms};
	}
	return now;
}

/* Milliseconds, modulo 256. */
uint8_t heat_ticks(void)
{
	return ticks;
}
