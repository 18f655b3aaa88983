/* The serial line, a line of text at a time: see line.c. */
#ifndef LINE_H
#define LINE_H

#include <stdbool.h>
#include <stdint.h>

#define LINE_MAX 24 /* the longest good line is 18 characters */

void line_start(void);
bool line_take(char *line, uint8_t *length);
uint8_t line_bad(void);
void line_count_bad(void);

void say_start(uint8_t sequence, char kind);
void say(char c);
void say_hex(uint16_t value, uint8_t digits);
void say_number(uint32_t value, uint8_t digits);
void say_end(void);

bool hex_value(const char *text, uint8_t digits, uint16_t *value);
uint16_t checksum(const char *text, uint8_t length);

#endif
