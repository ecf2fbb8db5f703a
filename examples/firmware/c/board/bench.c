/* Semihosting ("Semihosting for AArch32 and AArch64"): the processor stops at a breakpoint, and the emulator does what r0 says. */
#include <stddef.h>

#include "bench.h"
#include "board.h"
#include "text.h"

#ifdef BENCH

#define WRITE0 0x04
#define GET_CMDLINE 0x15
#define EXIT_EXTENDED 0x20
/* The reason of an exit that the program wanted. */
#define APPLICATION_EXIT 0x20026

/* With the feature `plant` of the library: a panic in it. */
extern void bellwire_plant(void);

#define STEPS 24

enum act { NOTHING, RAIN, DRY, STALL, FAULT, PANIC, END };

static const struct {
    const char *name;
    enum act act;
} names[] = {{"rain", RAIN}, {"dry", DRY}, {"stall", STALL}, {"fault", FAULT}, {"panic", PANIC}, {"end", END}};

static struct {
    uint32_t at, value;
    enum act act;
} steps[STEPS];

static bool rains;
static struct text line;

static uint32_t call(uint32_t number, const void *parameter)
{
    register uint32_t r0 __asm__("r0") = number;
    register const void *r1 __asm__("r1") = parameter;

    __asm__ volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

/* The digits at `*from`, which moves behind them. */
static uint32_t digits(const char **from)
{
    uint32_t number = 0;

    for (; **from >= '0' && **from <= '9'; (*from)++)
        number = number * 10 + (uint32_t)(**from - '0');
    return number;
}

/* Moves behind this word, if it stands at `*from`. */
static bool skip(const char **from, const char *word)
{
    const char *at = *from;

    for (; *word != '\0'; word++)
        if (*at++ != *word)
            return false;
    *from = at;
    return true;
}

/* Reads WHAT@MILLISECONDS or WHAT@MILLISECONDS:VALUE; gives whether it is one. */
static bool read_step(const char *from, size_t step)
{
    for (size_t name = 0; name < sizeof names / sizeof *names; name++) {
        const char *at = from;
        if (skip(&at, names[name].name) && skip(&at, "@")) {
            steps[step].act = names[name].act;
            steps[step].at = digits(&at) * 1000;
            steps[step].value = skip(&at, ":") ? digits(&at) * 1000 : 0;
            return true;
        }
    }
    return false;
}

bool bench_start(uint32_t *number)
{
    static char words[512];
    const struct {
        char *words;
        uint32_t length;
    } block = {words, sizeof words};
    bool has_number = false;
    size_t step = 0;

    if (call(GET_CMDLINE, &block) != 0)
        return false;
    words[sizeof words - 1] = '\0';
    for (const char *at = words; *at != '\0'; at++) {
        if (at != words && at[-1] != ' ')
            continue;
        if (skip(&at, "number:")) {
            *number = digits(&at);
            has_number = true;
        } else if (step < STEPS && read_step(at, step)) {
            step++;
        }
        if (*at == '\0')
            break;
    }
    return has_number;
}

#define PAINT 0xC5C5C5C5u

/* From the linker script. */
extern uint32_t bss_end[], stack_top[];

void bench_paint(void)
{
    /* Not over the frame of this function and of who calls it. */
    volatile uint32_t *end = (volatile uint32_t *)__builtin_frame_address(0) - 16;

    for (volatile uint32_t *word = bss_end; word < end; word++)
        *word = PAINT;
}

static void end(void)
{
    const volatile uint32_t *word = bss_end;

    while (*word == PAINT)
        word++;
    bench_line("end");
    bench_value(" stack=", (int32_t)((uintptr_t)stack_top - (uintptr_t)word));
    bench_say();
    bench_exit(0);
}

static void stall(uint32_t micros)
{
    uint32_t start = board_now();

    bench_line("stall");
    bench_value(" us=", (int32_t)micros);
    bench_say();
    while (board_now() - start < micros)
        ;
    bench_line("goes on");
    bench_say();
}

bool bench_turn(uint32_t now)
{
    for (size_t step = 0; step < STEPS; step++) {
        enum act act = steps[step].act;
        if (act == NOTHING || (int32_t)(now - steps[step].at) < 0)
            continue;
        steps[step].act = NOTHING;
        switch (act) {
        case RAIN: rains = true; break;
        case DRY: rains = false; break;
        case STALL: stall(steps[step].value); break;
        case FAULT: __asm__ volatile("udf #0"); break;
#ifdef PLANT
        case PANIC: bellwire_plant(); break;
#endif
        case END: end(); break;
        default: break;
        }
    }
    return rains;
}

void bench_line(const char *about)
{
    line.count = 0;
    text_count(&line, board_now());
    text_word(&line, " ");
    text_word(&line, about);
}

void bench_word(const char *word)
{
    text_word(&line, word);
}

void bench_value(const char *word, int32_t value)
{
    text_word(&line, word);
    text_number(&line, value);
}

void bench_say(void)
{
    text_word(&line, "\n");
    line.octets[line.count] = '\0';
    call(WRITE0, line.octets);
}

void bench_exit(uint32_t status)
{
    const uint32_t block[2] = {APPLICATION_EXIT, status};

    call(EXIT_EXTENDED, block);
}

#endif
