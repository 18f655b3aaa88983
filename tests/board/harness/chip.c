/* The chip: simavr runs the firmware. Its output pins are looked at whenever it writes to their port and at
 * each reset, so that an edge carries the very cycle in which it happened, and the wall clock beside it. */
#include "harness.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <simavr/avr_ioport.h>
#include <simavr/sim_elf.h>

#define EDGES 65536
#define HEAT 0x20
#define MAIN 0x40
#define CONTACTS 0x3F
#define PIND_OF(port) (0x23 + 3 * ((port) - 'B')) /* data address of PINx; DDRx and PORTx follow it */

struct edge {
	char what; /* h heat, m main contactor, r reset */
	bool on;
	uint64_t cycle, wall_ns;
};

avr_t *chip;
static elf_firmware_t firmware;
static struct edge edges[EDGES];
static unsigned edge_count;
static uint8_t level, contacts = CONTACTS;
static bool was_reset;

static uint64_t wall_ns(void)
{
	struct timespec now;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return (uint64_t)now.tv_sec * 1000000000ULL + (uint64_t)now.tv_nsec;
}

static void note(char what, bool on)
{
	if (edge_count < EDGES)
		edges[edge_count++] = (struct edge){what, on, chip->cycle, wall_ns()};
}

/* What a port drives high: a pin that is an input floats, and the resistor on the board pulls it low. */
uint8_t chip_driven(char port)
{
	unsigned pin = PIND_OF(port);
	return chip->data[pin + 1] & chip->data[pin + 2];
}

static void look(void)
{
	uint8_t now = chip_driven('D') & (HEAT | MAIN);
	if (now == level)
		return;
	if ((now ^ level) & HEAT)
		note('h', now & HEAT);
	if ((now ^ level) & MAIN)
		note('m', now & MAIN);
	level = now;
}

/* simavr forgets the levels of its inputs at a reset, and filters what seems unchanged to it. */
static void apply_contacts(void)
{
	uint8_t levels = (uint8_t)~contacts & CONTACTS; /* a contact that is well pulls its pin to ground */
	avr_ioport_external_t external = {.name = 'C', .mask = CONTACTS, .value = levels};
	avr_ioctl(chip, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &external);
	for (unsigned i = 0; i < 6; i++)
		avr_raise_irq(avr_io_getirq(chip, AVR_IOCTL_IOPORT_GETIRQ('C'), (int)i), levels >> i & 1);
	chip->data[PIND_OF('C')] = levels;
}

static void port_written(avr_irq_t *irq, uint32_t value, void *nothing)
{
	(void)irq;
	(void)value;
	(void)nothing;
	look();
	converter_watch();
}

static void on_reset(avr_t *avr)
{
	(void)avr;
	was_reset = true;
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
	(void)avr;
	(void)cycles; /* the harness keeps the time */
}

static void no_log(avr_t *avr, const int severity, const char *format, va_list arguments)
{
	(void)avr;
	if (severity <= LOG_ERROR)
		vfprintf(stderr, format, arguments);
}

void chip_load(const char *elf)
{
	avr_global_logger_set(no_log);
	chip = avr_make_mcu_by_name("atmega328p");
	if (!chip || elf_read_firmware(elf, &firmware) != 0) {
		fprintf(stderr, "%s: cannot be loaded\n", elf);
		exit(2);
	}
	firmware.frequency = HZ;
	avr_init(chip);
	avr_load_firmware(chip, &firmware);
	chip->sleep = no_sleep;
	chip->reset = on_reset;
	for (const char *port = "BD"; *port; port++) {
		avr_irq_t *irq = avr_io_getirq(chip, AVR_IOCTL_IOPORT_GETIRQ(*port), IOPORT_IRQ_REG_PORT);
		avr_irq_register_notify(irq, port_written, NULL);
	}
	apply_contacts();
}

/* Run some instructions: up to what simavr takes at a time, which ends with its next timer. */
void chip_step(void)
{
	int state = avr_run(chip);
	if (state == cpu_Done || state == cpu_Crashed) {
		fprintf(stderr, "the firmware has stopped the chip at pc %x\n", chip->pc);
		exit(3);
	}
	if (was_reset) {
		was_reset = false;
		apply_contacts();
		serial_wire();
		note('r', true);
		look();
		converter_watch();
	}
}

void chip_run_to(uint64_t cycle)
{
	while (chip->cycle < cycle)
		chip_step();
}

/* Fill the memory with anything. */
void chip_spoil(void)
{
	for (unsigned i = chip->ioend + 1; i <= chip->ramend; i++)
		chip->data[i] = (uint8_t)rand();
}

/* A reset from outside. simavr has no supply voltage: a brown-out is a reset with its flag set. */
bool chip_reset(const char *kind)
{
	avr_regbit_t flag;
	if (!strcmp(kind, "power"))
		flag = chip->reset_flags.porf;
	else if (!strcmp(kind, "external"))
		flag = chip->reset_flags.extrf;
	else if (!strcmp(kind, "brown-out"))
		flag = chip->reset_flags.borf;
	else
		return false;
	avr_reset(chip);
	if (!strcmp(kind, "power"))
		chip_spoil(); /* memory comes up as it likes */
	avr_regbit_set(chip, flag);
	look();
	return true;
}

/* The program counter goes astray, into the endless loop that the C library keeps at the program's end:
 * "all" enters it by the instruction that stops the interrupts, "loop" behind that one. */
bool chip_hang(const char *how)
{
	bool loop = !strcmp(how, "loop");
	if (!loop && strcmp(how, "all") != 0)
		return false;
	while (!chip->sreg[S_I]) /* not from within an interrupt */
		chip_step();
	for (unsigned i = 0; i < firmware.symbolcount; i++) {
		if (strcmp(firmware.symbol[i]->symbol, "_exit") != 0)
			continue;
		chip->pc = firmware.symbol[i]->addr + (loop ? 2 : 0);
		chip->state = cpu_Running;
		return true;
	}
	return false;
}

void chip_contact(unsigned bit, bool well)
{
	contacts = (uint8_t)((contacts & ~(1u << bit)) | (well ? 1u << bit : 0));
	apply_contacts();
}

/* Print what the outputs did since this was last asked, and forget it. */
void chip_tell_edges(void)
{
	printf("%u\n", edge_count);
	for (unsigned i = 0; i < edge_count; i++)
		printf("%c %d %llu %llu\n", edges[i].what, edges[i].on, (unsigned long long)edges[i].cycle,
		       (unsigned long long)edges[i].wall_ns);
	edge_count = 0;
}
