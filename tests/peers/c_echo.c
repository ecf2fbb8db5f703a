/* The C peer for talk.py and tool.py: sends each errand 100 back, and reports the state of a dome after dome-goto. `c_echo DEVICE NUMBER-FILE ARRIVALS`: after so many arrivals (0: never) it dies where it stands. */
#define _XOPEN_SOURCE 600
#include "bellwire.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum { ERRAND = 100, COMES_BACK = 101, PENDING = 512 };

static int device;

static uint16_t take(void *context, uint8_t *into, uint16_t most)
{
    ssize_t length = read(device, into, most);
    (void)context;
    return length > 0 ? (uint16_t)length : 0;
}

static void give(void *context, const uint8_t *octets, uint16_t length)
{
    (void)context;
    for (uint16_t at = 0; at < length;) {
        ssize_t written = write(device, octets + at, (size_t)(length - at));
        at = (uint16_t)(at + (written > 0 ? written : 0));
    }
}

static uint32_t milliseconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint32_t)(now.tv_sec * 1000 + now.tv_nsec / 1000000);
}

/* Read N, store N + 16 before the first frame, use N (W-22). */
static uint32_t stored_number(const char *path)
{
    unsigned number = 0x100;
    FILE *file = fopen(path, "r");
    if (file) {
        if (fscanf(file, "%u", &number) != 1) {
            exit(2);
        }
        fclose(file);
    }
    file = fopen(path, "w");
    if (!file) {
        exit(2);
    }
    fprintf(file, "%u", number + 16);
    fclose(file);
    return number;
}

static unsigned counter_of(const uint8_t *octets)
{
    return octets[0] | (unsigned)octets[1] << 8 | (unsigned)octets[2] << 16 | (unsigned)octets[3] << 24;
}

int main(int count, char **words)
{
    static struct bw_port port;
    static uint8_t pending[PENDING][5];
    struct bw_config config;
    struct bw_uart uart = { take, give, 0 };
    struct termios raw;
    unsigned first = 0, end = 0, under_way = 0;
    int arrivals = 0;
    if (count != 4) {
        return 2;
    }
    device = open(words[1], O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (device < 0 || tcgetattr(device, &raw)) {
        return 2;
    }
    raw.c_iflag = raw.c_oflag = raw.c_lflag = 0;
    tcsetattr(device, TCSANOW, &raw);
    setvbuf(stdout, 0, _IOLBF, 0);
    memset(&config, 0, sizeof config);
    config.octets_per_second = 11520;
    config.keep_alive = 1000;
    config.mine = stored_number(words[2]);
    bw_port_init(&port, &config, &uart);
    bw_open(&port, milliseconds());
    for (;;) {
        struct bw_event event = bw_service(&port, milliseconds());
        struct timespec nap = { 0, 500000 };
        if (event.name == BW_MESSAGE && event.kind == BW_ERRAND && event.octets[0] == ERRAND && event.length == 5) {
            printf("arrived %u\n", counter_of(event.octets + 1));
            memcpy(pending[end % PENDING], event.octets, 5);
            pending[end++ % PENDING][0] = COMES_BACK;
            if (++arrivals == atoi(words[3])) {
                _exit(9);
            }
        } else if (event.name == BW_MESSAGE && event.kind == BW_ERRAND && event.octets[0] == 1) {
            static const uint8_t held[5] = { 3, 0, 0, 0, 0 };
            (void)bw_send(&port, BW_REPORT, held, sizeof held);
        } else if (event.name == BW_DELIVERED || event.name == BW_UNKNOWN || event.name == BW_NOT_SENT) {
            printf("%s %u\n", event.name == BW_DELIVERED ? "delivered" : event.name == BW_UNKNOWN ? "unknown" : "not-sent", under_way);
        } else if (event.name == BW_NONE) {
            if (first != end && bw_send(&port, BW_ERRAND, pending[first % PENDING], 5)) {
                under_way = counter_of(pending[first++ % PENDING] + 1);
                printf("accepted %u\n", under_way);
            }
            nanosleep(&nap, 0);
        }
    }
}
