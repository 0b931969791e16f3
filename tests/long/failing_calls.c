/* Makes the Nth call fail that changes something under one folder, as a disk does that is full or gives up.
   Loaded before the C library (LD_PRELOAD); counts from failing_calls_arm on. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

static char under[4096];
static long count, at, lasting;

void failing_calls_arm(const char *folder, long nth, long from_then_on) {
    count = 0, at = nth, lasting = from_then_on;
    strncpy(under, folder, sizeof under - 1);
}
long failing_calls_count(void) { return count; }

static int fails(const char *path, int with) {
    if (!under[0] || !path || strncmp(path, under, strlen(under)) != 0) return 0;
    count++;
    if (at && (count == at || (lasting && count > at))) { errno = with; return 1; }
    return 0;
}
static int fails_fd(int fd, int with) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n < 0) return 0;
    path[n] = 0;
    return fails(path, with);
}
#define REAL(name) static __typeof__(&name) real; if (!real) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

ssize_t write(int fd, const void *b, size_t n) { REAL(write); return fails_fd(fd, ENOSPC) ? -1 : real(fd, b, n); }
ssize_t pwrite64(int fd, const void *b, size_t n, off64_t o) { REAL(pwrite64); return fails_fd(fd, ENOSPC) ? -1 : real(fd, b, n, o); }
int fsync(int fd) { REAL(fsync); return fails_fd(fd, EIO) ? -1 : real(fd); }
int fdatasync(int fd) { REAL(fdatasync); return fails_fd(fd, EIO) ? -1 : real(fd); }
int rename(const char *a, const char *b) { REAL(rename); return fails(b, EACCES) ? -1 : real(a, b); }
int mkdir(const char *p, mode_t m) { REAL(mkdir); return fails(p, ENOSPC) ? -1 : real(p, m); }
int open64(const char *p, int f, ...) {
    REAL(open64);
    va_list more; va_start(more, f); mode_t m = va_arg(more, mode_t); va_end(more);
    return (f & O_CREAT) && access(p, F_OK) && fails(p, ENOSPC) ? -1 : real(p, f, m);
}
int open(const char *p, int f, ...) {
    REAL(open);
    va_list more; va_start(more, f); mode_t m = va_arg(more, mode_t); va_end(more);
    return (f & O_CREAT) && access(p, F_OK) && fails(p, ENOSPC) ? -1 : real(p, f, m);
}
