/* The UART: six octets of hardware queue for receiving, one for sending; a ring each way between interrupt and loop. */
#include <stdbool.h>

#include "board.h"

#define STARTRX REGISTER(0x40002000)
#define STARTTX REGISTER(0x40002008)
#define RXDRDY REGISTER(0x40002108)
#define TXDRDY REGISTER(0x4000211C)
#define FAILED REGISTER(0x40002124)
#define INTENSET REGISTER(0x40002304)
#define ERRORSRC REGISTER(0x40002480)
#define ENABLE REGISTER(0x40002500)
#define PSELTXD REGISTER(0x4000250C)
#define PSELRXD REGISTER(0x40002514)
#define RXD REGISTER(0x40002518)
#define TXD REGISTER(0x4000251C)
#define BAUDRATE REGISTER(0x40002524)

/* In the error source: an octet came and the queue was full. */
#define OVERRUN 1u

/* Octets that may wait between two turns of the loop (22 ms at 115 200 bits per second), and for the transmitter: powers of two. */
#define INCOMING 256u
#define OUTGOING 128u

/* Counts of octets put and taken so far: each is written by one side alone and wraps; their difference is what waits. */
static struct {
    uint8_t octets[INCOMING];
    uint32_t stamps[INCOMING];
    volatile uint32_t put, taken;
} incoming;

static struct {
    uint8_t octets[OUTGOING];
    volatile uint32_t put, taken;
} outgoing;

static volatile uint32_t lost;
/* The transmitter is at work, and its interrupt will fetch the next octet. */
static volatile bool sending;

void uart_start(void)
{
    PSELTXD = 24;
    PSELRXD = 25;
    BAUDRATE = 0x01D7E000;
    ENABLE = 4;
    INTENSET = 1u << 2 | 1u << 7 | 1u << 9;
    STARTRX = 1;
    STARTTX = 1;
    board_enable(2);
}

/* From the interrupt: if the loop is so late that there is no room, the octet is lost, and counted. */
static void keep(uint8_t octet)
{
    uint32_t put = incoming.put;

    if (put - incoming.taken >= INCOMING) {
        lost++;
        return;
    }
    incoming.octets[put % INCOMING] = octet;
    incoming.stamps[put % INCOMING] = board_now();
    board_in_order();
    incoming.put = put + 1;
}

/* Sends the next octet, if there is one. From the interrupt, or with interrupts off. */
static void send_next(void)
{
    uint32_t taken = outgoing.taken;

    sending = outgoing.put != taken;
    if (sending) {
        TXD = outgoing.octets[taken % OUTGOING];
        board_in_order();
        outgoing.taken = taken + 1;
    }
}

void uart_handle_interrupt(void)
{
    /* The flag first, then the octet: an octet that comes in between raises the flag again. */
    while (RXDRDY != 0) {
        RXDRDY = 0;
        keep((uint8_t)RXD);
    }
    if (FAILED != 0) {
        uint32_t what;
        FAILED = 0;
        what = ERRORSRC;
        ERRORSRC = what;
        /* How many octets the hardware lost it does not say; this counts one. */
        if (what & OVERRUN)
            lost++;
    }
    if (TXDRDY != 0) {
        TXDRDY = 0;
        send_next();
    }
}

/* Only octets of one stamp: the age of each stays exact. */
static size_t take(void *context, uint8_t *into, size_t room, uint32_t *arrived)
{
    uint32_t taken = incoming.taken;
    size_t count = 0;

    (void)context;
    if (incoming.put == taken)
        return 0;
    board_in_order();
    *arrived = incoming.stamps[taken % INCOMING];
    while (count < room && incoming.put != taken && incoming.stamps[taken % INCOMING] == *arrived) {
        into[count++] = incoming.octets[taken % INCOMING];
        taken++;
    }
    board_in_order();
    incoming.taken = taken;
    return count;
}

static size_t put(void *context, const uint8_t *octets, size_t length)
{
    uint32_t put = outgoing.put;
    size_t count = 0;

    (void)context;
    while (count < length && put - outgoing.taken < OUTGOING)
        outgoing.octets[put++ % OUTGOING] = octets[count++];
    board_in_order();
    outgoing.put = put;
    __asm__ volatile("cpsid i" ::: "memory");
    if (!sending)
        send_next();
    __asm__ volatile("cpsie i" ::: "memory");
    return count;
}

static size_t unsent(void *context)
{
    (void)context;
    return outgoing.put - outgoing.taken;
}

const bellwire_line board_uart = {NULL, take, put, unsent};

uint32_t board_lost(void)
{
    return lost;
}
