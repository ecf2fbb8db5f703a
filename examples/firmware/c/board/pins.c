/* Outputs on pins 1 to 4 of the GPIO port. */
#include "board.h"

#define OUT REGISTER(0x50000504)
#define OUTSET REGISTER(0x50000508)
#define OUTCLR REGISTER(0x5000050C)
#define DIRSET REGISTER(0x50000518)

#define FIRST 1

void pins_start(void)
{
    OUTCLR = OUTPUT_ALL << FIRST;
    DIRSET = OUTPUT_ALL << FIRST;
}

void board_set_outputs(uint32_t on)
{
    OUTCLR = (OUTPUT_ALL & ~on) << FIRST;
    OUTSET = (OUTPUT_ALL & on) << FIRST;
}

uint32_t board_outputs(void)
{
    return OUT >> FIRST & OUTPUT_ALL;
}
