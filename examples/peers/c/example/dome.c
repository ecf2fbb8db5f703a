/* The dome on a board: it turns only while news of its rate is fresh. Give it your board's UART, clock, motor and button.
 *
 * Caution: this turns a motor. A dead-man is a functional stop, not an emergency stop; see README.md. */
#include "bellwire.h"

extern struct bw_uart board_uart;
extern uint32_t board_milliseconds(void);
extern uint32_t board_own_number(void); /* another one at each boot (W-22) */
extern void board_motor(int32_t rate);  /* 0.01 degrees per second */
extern bool board_rearm_button(void);   /* an operator's act */

/* The rate of message 0: a postcard i16 after the message number. */
static bool rate_of(const uint8_t *payload, uint16_t length, int32_t *rate)
{
    uint32_t value = 0;
    uint8_t at = 1, shift = 0;
    if (length < 2 || length > 4 || payload[0] != 0) {
        return false;
    }
    for (; at < length - 1 && payload[at] > 127; at++, shift = (uint8_t)(shift + 7)) {
        value |= (uint32_t)(payload[at] & 127) << shift;
    }
    value |= (uint32_t)payload[at] << shift;
    *rate = (int32_t)(value >> 1) ^ -(int32_t)(value & 1);
    return at == length - 1 && payload[at] < 128 && value <= 0xFFFF;
}

void dome(void)
{
    static struct bw_port port;
    struct bw_config config = { BW_COBS, 0, 11520, 0, 0, 1000, 0xD0, 1, 5 };
    struct bw_dead_man motor;
    config.mine = board_own_number();
    bw_port_init(&port, &config, &board_uart);
    bw_dead_man_init(&motor, 500, 0);
    bw_open(&port, board_milliseconds());
    for (;;) {
        uint32_t now = board_milliseconds();
        struct bw_event event = bw_service(&port, now);
        int32_t rate;
        if (event.name == BW_MESSAGE && event.kind == BW_SET_POINT && rate_of(event.octets, event.length, &rate)) {
            bw_dead_man_news(&motor, rate, event.arrived);
        } else if (event.name == BW_ENDED || event.name == BW_MISMATCH) {
            bw_dead_man_hold(&motor);
        }
        if (board_rearm_button()) {
            (void)bw_dead_man_rearm(&motor, now);
        }
        board_motor(bw_dead_man_output(&motor, now));
    }
}
