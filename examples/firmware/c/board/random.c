/* The random generator of the chip. */
#include "board.h"

#define START REGISTER(0x4000D000)
#define STOP REGISTER(0x4000D004)
#define READY REGISTER(0x4000D100)
#define CONFIG REGISTER(0x4000D504)
#define VALUE REGISTER(0x4000D508)

uint32_t board_random(void)
{
    uint32_t number = 0;

    /* Bias corrected. */
    CONFIG = 1;
    START = 1;
    for (int octet = 0; octet < 4; octet++) {
        while (READY == 0)
            ;
        READY = 0;
        number = number << 8 | (VALUE & 0xFF);
    }
    STOP = 1;
    return number;
}
