/* What port.c and arrivals.c share; no business of a program. */
#ifndef BELLWIRE_INSIDE_H
#define BELLWIRE_INSIDE_H

#include "bellwire.h"

uint32_t bwi_time_of(const struct bw_port *port, uint32_t octets);
bool bwi_due(uint32_t now, uint32_t then);
uint32_t bwi_larger(uint32_t one, uint32_t other);
uint32_t bwi_first_pace(const struct bw_port *port);
uint32_t bwi_least(const struct bw_port *port);
struct bw_event *bwi_tell(struct bw_port *port, enum bw_event_name name);
void bwi_refuse(struct bw_port *port, enum bw_reject why);
void bwi_forget(struct bw_port *port);
void bwi_transmit(struct bw_port *port, const uint8_t *frame, uint16_t length);
void bwi_owe_open(struct bw_port *port, bool asks);
void bwi_end_session(struct bw_port *port, enum bw_end end);
void bwi_take_octet(struct bw_port *port, uint8_t octet);

#endif
