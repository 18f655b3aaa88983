/* The serial line: bytes to lines and back. Framing and checksum are described in protocol.md.
 *
 * Receiving: '>' begins a line whatever came before, a newline ends it. What is too long, or comes with
 * an error of the receiver, or while the last line has not been taken yet, is dropped up to the next '>'.
 */
#include "board.h"
#include "line.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>
#include <util/crc16.h>
#include <util/setbaud.h>

#define SKIP 0xFF /* instead of a length: wait for '>' */
#define OUT_MAX 80

static volatile bool ready;
static volatile uint8_t in_length = SKIP;
static volatile uint8_t bad; /* lines dropped, up to 255 */
static char in[LINE_MAX];

static volatile bool sending;
static uint8_t out_length, out_next;
static char out[OUT_MAX];

void line_start(void)
{
	UBRR0 = UBRR_VALUE;
#if USE_2X
	UCSR0A = 1 << U2X0;
#endif
	UCSR0C = 1 << UCSZ01 | 1 << UCSZ00; /* 8 data bits, no parity, 1 stop bit */
	UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
}

void line_count_bad(void)
{
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
	{
		if (bad < 255)
			bad++;
	}
}

uint8_t line_bad(void)
{
	return bad;
}

ISR(USART_RX_vect)
{
	bool error = UCSR0A & (1 << FE0 | 1 << DOR0 | 1 << UPE0); /* of the byte that is read next */
	char c = (char)UDR0;
	if (ready)
		return; /* when the line is taken, the rest of this one is skipped */
	if (error || (c != '>' && c != '\n' && in_length == LINE_MAX)) {
		line_count_bad();
		in_length = SKIP;
	} else if (c == '>') {
		in[0] = c;
		in_length = 1;
	} else if (in_length != SKIP) {
		if (c == '\n')
			ready = true;
		else
			in[in_length++] = c;
	}
}

/* Copy a line, without its newline, if there is one. */
bool line_take(char *line, uint8_t *length)
{
	if (!ready)
		return false;
	*length = in_length;
	for (uint8_t i = 0; i < in_length; i++)
		line[i] = in[i];
	in_length = SKIP;
	ready = false;
	return true;
}

ISR(USART_UDRE_vect)
{
	if (out_next < out_length) {
		UDR0 = (uint8_t)out[out_next++];
	} else {
		UCSR0B &= (uint8_t)~(1 << UDRIE0);
		sending = false;
	}
}

/* Begin an answer, as soon as the one before it has gone out. */
void say_start(uint8_t sequence, char kind)
{
	while (sending)
		; /* at most 21 ms; the watchdog is watching */
	out_length = 0;
	say('<');
	say_hex(sequence, 2);
	say(' ');
	say(kind);
	say(' ');
}

void say(char c)
{
	if (out_length < OUT_MAX)
		out[out_length++] = c;
}

void say_hex(uint16_t value, uint8_t digits)
{
	while (digits--)
		say("0123456789ABCDEF"[value >> (digits * 4) & 0x0F]);
}

void say_number(uint32_t value, uint8_t digits)
{
	char text[6];
	for (uint8_t i = 0; i < digits; i++, value /= 10)
		text[i] = (char)('0' + value % 10);
	while (digits--)
		say(text[digits]);
}

void say_end(void)
{
	say_hex(checksum(out, out_length), 4);
	say('\n');
	out_next = 0;
	sending = true;
	UCSR0B |= 1 << UDRIE0;
}

/* CRC-16/IBM-3740: polynomial 0x1021, start 0xFFFF, not reflected; "123456789" gives 0x29B1. */
uint16_t checksum(const char *text, uint8_t length)
{
	uint16_t crc = 0xFFFF;
	for (uint8_t i = 0; i < length; i++)
		crc = _crc_xmodem_update(crc, (uint8_t)text[i]);
	return crc;
}

/* Read hexadecimal digits, capitals only. */
bool hex_value(const char *text, uint8_t digits, uint16_t *value)
{
	*value = 0;
	for (uint8_t i = 0; i < digits; i++) {
		char c = text[i];
		uint8_t digit;
		if (c >= '0' && c <= '9')
			digit = (uint8_t)(c - '0');
		else if (c >= 'A' && c <= 'F')
			digit = (uint8_t)(c - 'A' + 10);
		else
			return false;
		*value = *value << 4 | digit;
	}
	return true;
}
