/* The board that is not there: the firmware as compiled, in simavr, with what it is wired to. */
#ifndef HARNESS_H
#define HARNESS_H

#include <stdbool.h>
#include <stdint.h>

#include <simavr/sim_avr.h>

#define HZ 16000000ULL
#define MS_CYCLES (HZ / 1000)
#define CHANNELS 3

/* chip.c: the chip, its resets, its outputs with their times, its contacts */
extern avr_t *chip;
void chip_load(const char *elf);
void chip_step(void);
void chip_run_to(uint64_t cycle);
bool chip_reset(const char *kind);
void chip_spoil(void);
bool chip_hang(const char *how);
void chip_contact(unsigned bit, bool well);
void chip_tell_edges(void);
uint8_t chip_driven(char port);

/* serial.c: the chip's UART at its true speed, behind a pseudo-terminal */
extern int serial_fd;
extern unsigned serial_taken, serial_given; /* bytes, ever */
void serial_open(void);
void serial_wire(void);
bool serial_take(void);
bool serial_busy(void);
bool serial_give(void);

/* converter.c: the thermocouple converters on SPI */
void converter_wire(void);
void converter_watch(void);
void converter_set(unsigned channel, int quarters);
void converter_cold(unsigned channel, int sixteenths);
bool converter_fault(unsigned channel, const char *kind);

#endif
