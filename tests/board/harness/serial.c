/* The chip's UART behind a pseudo-terminal. Bytes go in and come out one character time apart, in the
 * chip's own time, as on a wire. */
#define _GNU_SOURCE
#include "harness.h"

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <simavr/avr_uart.h>

#define BIT_CYCLES (HZ / 38400)
#define OUT_CYCLES (10 * BIT_CYCLES)
/* One idle bit between characters: without any, simavr's receiver, which counts a character's time from
 * when the last one was fetched, falls behind for good on a long stream. */
#define IN_CYCLES (11 * BIT_CYCLES)
#define QUEUE 65536 /* a power of two */

int serial_fd;
unsigned serial_taken, serial_given;
static uint8_t in[QUEUE];
static unsigned in_first, in_next;
static struct {
	uint8_t byte;
	uint64_t due;
} out[QUEUE];
static unsigned out_first, out_next;

void serial_open(void)
{
	static char name[256];
	int far_end;
	struct termios raw;
	if (openpty(&serial_fd, &far_end, name, NULL, NULL) != 0) {
		perror("no pseudo-terminal");
		exit(2);
	}
	tcgetattr(far_end, &raw); /* kept open: the line stays up when the driver closes it */
	cfmakeraw(&raw);
	tcsetattr(far_end, TCSANOW, &raw);
	fcntl(serial_fd, F_SETFL, O_NONBLOCK);
	printf("%s\n", name);
}

static avr_cycle_count_t feed(avr_t *avr, avr_cycle_count_t when, void *nothing)
{
	(void)nothing;
	(void)when;
	if (in_first == in_next)
		return 0;
	avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), in[in_first++ % QUEUE]);
	return avr->cycle + IN_CYCLES;
}

static void heard(avr_irq_t *irq, uint32_t value, void *nothing)
{
	(void)irq;
	(void)nothing;
	uint64_t last = out_next == out_first ? 0 : out[(out_next - 1) % QUEUE].due;
	uint64_t start = last > chip->cycle ? last : chip->cycle;
	out[out_next % QUEUE].byte = (uint8_t)value;
	out[out_next++ % QUEUE].due = start + OUT_CYCLES;
}

/* Begin, or begin anew after a reset: simavr's timers are gone, and what was on its way out is lost. */
void serial_wire(void)
{
	static bool wired;
	uint32_t flags = 0; /* neither print nor sleep of its own accord */
	avr_ioctl(chip, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
	if (!wired)
		avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), heard, NULL);
	wired = true;
	out_first = out_next;
	if (in_first != in_next)
		avr_cycle_timer_register(chip, IN_CYCLES, feed, NULL);
}

/* Take what the driver has written; return whether there was anything. */
bool serial_take(void)
{
	uint8_t bytes[4096];
	ssize_t count = read(serial_fd, bytes, sizeof bytes);
	for (ssize_t i = 0; i < count; i++)
		in[in_next++ % QUEUE] = bytes[i];
	serial_taken += count > 0 ? (unsigned)count : 0;
	if (count > 0 && !avr_cycle_timer_status(chip, feed, NULL))
		avr_cycle_timer_register(chip, 1, feed, NULL);
	return count > 0;
}

/* Whether bytes are still on their way into the chip. */
bool serial_busy(void)
{
	return avr_cycle_timer_status(chip, feed, NULL) != 0;
}

/* Give the driver what has come out by now; return whether a line's end was among it. */
bool serial_give(void)
{
	uint8_t bytes[256];
	size_t count = 0;
	bool ended = false;
	while (out_first != out_next && out[out_first % QUEUE].due <= chip->cycle && count < sizeof bytes) {
		bytes[count] = out[out_first++ % QUEUE].byte;
		ended |= bytes[count++] == '\n';
	}
	serial_given += (unsigned)count;
	if (count && write(serial_fd, bytes, count) != (ssize_t)count)
		perror("pseudo-terminal"); /* nobody has read for a long time */
	return ended;
}
