/* A 32-bit M0-class board with one UART (`qemu-system-arm -M microbit`). Registers: nRF51 Series Reference Manual v3.0.
 *
 * A board of your own: write these functions anew, and the linker script. */
#ifndef BOARD_H
#define BOARD_H

#include <stdint.h>

#include "bellwire.h"

#define REGISTER(address) (*(volatile uint32_t *)(uintptr_t)(address))

/* Outputs. Pull resistors must hold their drivers off until the program runs. */
#define OUTPUT_MOTOR 1u
#define OUTPUT_CLOCKWISE 2u
#define OUTPUT_OPEN 4u
#define OUTPUT_CLOSE 8u
#define OUTPUT_ALL 15u

/* Switches on what is in `on`, and everything else off. */
void board_set_outputs(uint32_t on);
/* What is on now, as the pins' register has it. */
uint32_t board_outputs(void);

/* Starts outputs (off), clock and UART. Called once. */
void board_start(void);
/* Microseconds since the start, wrapping, in steps of a tick of 1000. */
uint32_t board_now(void);
/* Sleeps until the next interrupt: an octet or the next tick. */
void board_wait(void);
/* 32 random bits. Takes about 3 ms. */
uint32_t board_random(void);

/* The UART: 115 200 bits per second, 8N1. */
extern const bellwire_line board_uart;
/* Octets lost since the start, because the loop or the interrupt came too late. */
uint32_t board_lost(void);

/* The end: outputs off, a last word, and no way back but a reset. */
void board_stop(const char *why) __attribute__((noreturn));

/* Lets an interrupt in. */
static inline void board_enable(unsigned interrupt)
{
    REGISTER(0xE000E100) = 1u << interrupt;
}

/* Nothing written before this line is left for after it: enough between a loop and an interrupt of one processor. */
static inline void board_in_order(void)
{
    __asm__ volatile("" ::: "memory");
}

/* The board's interrupts: in the vector table of start.c. */
void uart_handle_interrupt(void);
void clock_handle_interrupt(void);

void pins_start(void);
void clock_start(void);
void uart_start(void);

#endif
