/* What happens before main: vectors, memory. The processor loads the stack pointer itself (the linker script puts it before the vectors). */
#include <stddef.h>

#include "bench.h"
#include "board.h"

int main(void);

/* From the linker script. */
extern uint32_t data_begin[], data_end[], data_in_flash[], bss_begin[], bss_end[];

static void reset(void)
{
    const uint32_t *from = data_in_flash;

    for (uint32_t *to = data_begin; to < data_end; to++)
        *to = *from++;
    for (uint32_t *to = bss_begin; to < bss_end; to++)
        *to = 0;
    bench_paint();
    main();
    board_stop("main returned");
}

/* A fault, or an interrupt that nobody let in. */
static void fault(void)
{
    board_stop("fault");
}

typedef void vector(void);

/* The vectors of an ARMv6-M processor (its manual, B1.5.3), from the second on, and the chip's 32: a peripheral's number is in its address. */
__attribute__((section(".vectors"), used)) static vector *const vectors[15 + 32] = {
    reset, fault, fault, NULL, NULL, NULL, NULL, NULL, NULL, NULL, fault, NULL, NULL, fault, fault,
    fault, fault, uart_handle_interrupt, fault, fault, fault, fault, fault, clock_handle_interrupt, fault, fault,
    fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault,
    fault, fault, fault, fault, fault,
};

void board_start(void)
{
    pins_start();
    clock_start();
    uart_start();
}

void board_wait(void)
{
    __asm__ volatile("wfi");
}
