/* sanitized.h - whether this is built with the address or thread sanitizer:
 * their libraries must be loaded first, and take mlock(2) for themselves. */
#ifndef SUPPORT_SANITIZED_H
#define SUPPORT_SANITIZED_H

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { SANITIZED = 1 };
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
enum { SANITIZED = 1 };
#else
enum { SANITIZED = 0 };
#endif
#else
enum { SANITIZED = 0 };
#endif

#endif
