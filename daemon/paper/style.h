/* style.h - how every page looks. */
#ifndef PAPER_STYLE_H
#define PAPER_STYLE_H

extern const char paper_style[];

#endif
