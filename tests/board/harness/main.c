/* The harness: harness ELF. Prints the pseudo-terminal's name, then obeys one command a line:
 *
 *   run MS               let the chip run for so long (its own time)
 *   pace 0|1             0: the chip runs only when told, or when bytes come in; 1: in real time
 *   temp CHANNEL N       quarters of a degree C        cold CHANNEL N   sixteenths of a degree C
 *   sensor CHANNEL KIND  open, ground, supply, absent, unsaid, none
 *   contact BIT 0|1      1: closed, all is well
 *   reset KIND           power, external, brown-out
 *   spoil                fill the memory with anything (to be followed by a reset)
 *   hang HOW             loop: the main loop only; all: the interrupts too
 *   taken N              wait until N bytes have come in over the line, ever
 *   given                how many bytes have gone out over the line, ever
 *   edges                the outputs' edges since last asked: a count, then "WHAT ON CYCLE WALL_NS"
 *
 * Each is answered with "ok CYCLE" (edges and given: with those first), or with "no".
 */
#include "harness.h"

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define ANSWER_MS 45 /* unpaced, the chip gets so long to answer: the longest answer takes 20 ms */

static bool paced;
static uint64_t pace_cycle, pace_ns;

static uint64_t now_ns(void)
{
	struct timespec now;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return (uint64_t)now.tv_sec * 1000000000ULL + (uint64_t)now.tv_nsec;
}

static void run_to(uint64_t cycle)
{
	while (chip->cycle < cycle) {
		uint64_t slice = chip->cycle + MS_CYCLES;
		chip_run_to(slice < cycle ? slice : cycle);
		serial_give();
	}
}

/* Unpaced: let in what has been written, and let the chip run until it has answered, or could have. */
static void exchange(void)
{
	uint64_t end = chip->cycle + ANSWER_MS * MS_CYCLES;
	while (chip->cycle < end) {
		chip_run_to(chip->cycle + MS_CYCLES / 4);
		if (serial_take() || serial_busy())
			end = chip->cycle + ANSWER_MS * MS_CYCLES;
		if (serial_give() && !serial_busy())
			return;
	}
}

/* What is written to a pseudo-terminal takes a moment to come out at its other end. */
static void await(unsigned taken)
{
	struct pollfd fd = {.fd = serial_fd, .events = POLLIN};
	while (serial_taken < taken && poll(&fd, 1, 5000) > 0)
		if (serial_take())
			exchange();
}

static bool obey(const char *line)
{
	unsigned a;
	int b;
	char word[16];
	if (sscanf(line, "run %u", &a) == 1)
		run_to(chip->cycle + a * MS_CYCLES);
	else if (sscanf(line, "pace %u", &a) == 1) {
		paced = a;
		pace_cycle = chip->cycle;
		pace_ns = now_ns();
	} else if (sscanf(line, "temp %u %d", &a, &b) == 2 && a < CHANNELS)
		converter_set(a, b);
	else if (sscanf(line, "cold %u %d", &a, &b) == 2 && a < CHANNELS)
		converter_cold(a, b);
	else if (sscanf(line, "sensor %u %15s", &a, word) == 2 && a < CHANNELS)
		return converter_fault(a, word);
	else if (sscanf(line, "contact %u %d", &a, &b) == 2 && a < 6)
		chip_contact(a, b);
	else if (sscanf(line, "reset %15s", word) == 1)
		return chip_reset(word);
	else if (sscanf(line, "hang %15s", word) == 1)
		return chip_hang(word);
	else if (!strcmp(line, "spoil"))
		chip_spoil();
	else if (sscanf(line, "taken %u", &a) == 1)
		await(a);
	else if (!strcmp(line, "given"))
		printf("%u\n", serial_given);
	else if (!strcmp(line, "edges"))
		chip_tell_edges();
	else
		return false;
	return true;
}

/* Obey what has come in on standard input; at its end, so does the harness. */
static void listen(void)
{
	static char text[4096];
	static size_t length;
	ssize_t count = read(STDIN_FILENO, text + length, sizeof text - 1 - length);
	if (count <= 0)
		exit(0);
	length += (size_t)count;
	text[length] = 0;
	char *line = text, *end;
	for (; (end = strchr(line, '\n')); line = end + 1) {
		*end = 0;
		bool done = obey(line);
		printf(done ? "ok %llu\n" : "no\n", (unsigned long long)chip->cycle);
	}
	fflush(stdout);
	length -= (size_t)(line - text);
	memmove(text, line, length);
}

int main(int count, char **arguments)
{
	if (count != 2) {
		fprintf(stderr, "usage: harness ELF\n");
		return 2;
	}
	chip_load(arguments[1]);
	serial_wire();
	converter_wire();
	serial_open();
	fflush(stdout);
	struct pollfd fds[2] = {{.fd = STDIN_FILENO, .events = POLLIN}, {.fd = serial_fd, .events = POLLIN}};
	for (;;) {
		if (paced)
			run_to(pace_cycle + (now_ns() - pace_ns) * (HZ / 1000000) / 1000);
		poll(fds, 2, paced ? 1 : -1);
		if (fds[1].revents & POLLIN && serial_take() && !paced)
			exchange();
		if (fds[0].revents & (POLLIN | POLLHUP))
			listen();
	}
}
