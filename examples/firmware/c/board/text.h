/* Short texts without a formatter. */
#ifndef TEXT_H
#define TEXT_H

#include <stddef.h>
#include <stdint.h>

#define TEXT_MOST 100

/* A text of at most TEXT_MOST octets, without a zero behind it. What does not fit is cut off. */
struct text {
    char octets[TEXT_MOST + 1];
    size_t count;
};

void text_word(struct text *text, const char *word);
void text_number(struct text *text, int32_t number);
void text_count(struct text *text, uint32_t number);

#endif
