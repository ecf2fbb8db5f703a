/* The emulator's side door: a script of what happens to the board comes in, lines of what it does go out, over semihosting. It needs an
 * emulator or a debugger: without BENCH nothing of it is left. The README of the firmware in Rust has the lines and the script. */
#ifndef BENCH_H
#define BENCH_H

#include <stdbool.h>
#include <stdint.h>

#ifdef BENCH

/* Reads the script. Gives in `number` the board's own number, if the script has one. */
bool bench_start(uint32_t *number);
/* Does what is due to the whole board; gives whether it rains. */
bool bench_turn(uint32_t now);
/* Begins a line: the time, and what it is about. The texts of the interrupted line, if there is one, are lost. */
void bench_line(const char *about);
void bench_word(const char *word);
/* A word and a number behind it. */
void bench_value(const char *word, int32_t value);
/* Tells the line. */
void bench_say(void);
/* Paints the stack that is not in use; a script that ends with `end` tells how much of the paint is gone. */
void bench_paint(void);
/* Ends the emulator. */
void bench_exit(uint32_t status);

#else

static inline bool bench_start(uint32_t *number) { (void)number; return false; }
static inline bool bench_turn(uint32_t now) { (void)now; return false; }
static inline void bench_line(const char *about) { (void)about; }
static inline void bench_word(const char *word) { (void)word; }
static inline void bench_value(const char *word, int32_t value) { (void)word; (void)value; }
static inline void bench_say(void) {}
static inline void bench_paint(void) {}
static inline void bench_exit(uint32_t status) { (void)status; }

#endif
#endif
