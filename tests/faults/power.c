/* Stands between the service and the disk (LD_PRELOAD): writes down in a trace what was written,
 * synced, cut and deleted of one database and when, so that the disk of any moment can be made
 * again; and has the disk fail or run full on demand. It is for tests and no part of the service.
 *
 * FAULTS_DATABASE  path of the database; the files beside it are path-wal, path-journal, path-shm
 * FAULTS_TRACE     file to append the trace to; none: no trace
 * FAULTS_CONTROL   file of a struct control; none: the disk never fails
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

enum { DATABASE = 1, WAL, JOURNAL, SHM };
enum { WRITE = 1, SYNC_BEGIN, SYNC_END, CUT, UNLINK };
#define FDS 65536

struct control {          /* written by the test, read here at every call */
    int64_t fail_from;    /* the first write, sync or cut that fails with EIO, counted from 1; 0: none */
    int64_t fail_count;   /* how many fail from there on */
    int64_t room;         /* bytes by which files may still grow; negative: as many as they like */
    int64_t calls;        /* writes, syncs and cuts seen so far */
    int64_t failed;       /* how many of them failed on purpose */
};

struct record {           /* followed by the bytes of a write */
    int32_t kind, file;
    int64_t at_ns, offset, length;
};

static struct control *control;
static int trace = -1;
static const char *database;
static signed char which[FDS];
static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;

static int (*real_open)(const char *, int, ...);
static int (*real_close)(int);
static ssize_t (*real_write)(int, const void *, size_t);
static ssize_t (*real_pwrite)(int, const void *, size_t, off64_t);
static int (*real_fsync)(int);
static int (*real_fdatasync)(int);
static int (*real_ftruncate)(int, off64_t);
static int (*real_unlink)(const char *);

__attribute__((constructor)) static void begin(void)
{
    real_open = dlsym(RTLD_NEXT, "open64");
    real_close = dlsym(RTLD_NEXT, "close");
    real_write = dlsym(RTLD_NEXT, "write");
    real_pwrite = dlsym(RTLD_NEXT, "pwrite64");
    real_fsync = dlsym(RTLD_NEXT, "fsync");
    real_fdatasync = dlsym(RTLD_NEXT, "fdatasync");
    real_ftruncate = dlsym(RTLD_NEXT, "ftruncate64");
    real_unlink = dlsym(RTLD_NEXT, "unlink");
    const char *path = getenv("FAULTS_TRACE");
    if (path)
        trace = real_open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    path = getenv("FAULTS_CONTROL");
    if (path) {
        int fd = real_open(path, O_RDWR | O_CLOEXEC);
        control = mmap(NULL, sizeof *control, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
        real_close(fd);
        if (control == MAP_FAILED)
            abort();
    }
    database = getenv("FAULTS_DATABASE");
}

static int which_of(const char *path)
{
    if (!database || !path)
        return 0;
    size_t n = strlen(database);
    if (strncmp(path, database, n))
        return 0;
    path += n;
    return !*path ? DATABASE : !strcmp(path, "-wal") ? WAL : !strcmp(path, "-journal") ? JOURNAL
         : !strcmp(path, "-shm") ? SHM : 0;
}

static int of(int fd)
{
    return fd >= 0 && fd < FDS ? which[fd] : 0;
}

static void note(int kind, int file, int64_t offset, const void *bytes, int64_t length)
{
    if (trace < 0 || file == SHM)
        return;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    struct record head = {kind, file, now.tv_sec * 1000000000LL + now.tv_nsec, offset, length};
    struct iovec parts[2] = {{&head, sizeof head}, {(void *)bytes, bytes ? (size_t)length : 0}};
    ssize_t whole = (ssize_t)(parts[0].iov_len + parts[1].iov_len);
    if (writev(trace, parts, 2) != whole)
        abort(); /* a trace with a hole would prove nothing */
}

/* Called with the turn held, once for each write, sync and cut. */
static int fails(void)
{
    if (!control)
        return 0;
    int64_t n = ++control->calls, from = control->fail_from;
    if (!from || n < from || n >= from + control->fail_count)
        return 0;
    control->failed++;
    errno = EIO;
    return 1;
}

/* How much of a write has room: what lies within the file always has. */
static size_t room_for(int fd, int64_t offset, size_t length)
{
    struct stat64 held;
    if (!control || control->room < 0 || fstat64(fd, &held))
        return length;
    int64_t grows = offset + (int64_t)length - held.st_size;
    if (grows <= 0)
        return length;
    if (grows > control->room) {
        int64_t fits = (int64_t)length - (grows - control->room);
        length = fits > 0 ? (size_t)fits : 0;
        grows = control->room;
    }
    control->room -= grows;
    if (!length) {
        control->failed++;
        errno = ENOSPC;
    }
    return length;
}

#define OPEN(name)                                                                                 \
    int name(const char *path, int flags, ...)                                                     \
    {                                                                                              \
        mode_t mode = 0;                                                                           \
        if (flags & (O_CREAT | O_TMPFILE)) {                                                       \
            va_list more;                                                                          \
            va_start(more, flags);                                                                 \
            mode = va_arg(more, mode_t);                                                           \
            va_end(more);                                                                          \
        }                                                                                          \
        int fd = real_open(path, flags, mode);                                                     \
        if (fd >= 0 && fd < FDS)                                                                   \
            which[fd] = (signed char)which_of(path);                                               \
        return fd;                                                                                 \
    }

OPEN(open)
OPEN(open64)

int close(int fd)
{
    if (fd >= 0 && fd < FDS)
        which[fd] = 0;
    return real_close(fd);
}

static ssize_t put(int fd, const void *bytes, size_t length, int64_t offset)
{
    pthread_mutex_lock(&turn);
    ssize_t done = -1;
    if (!fails() && (length = room_for(fd, offset, length))) {
        done = real_pwrite(fd, bytes, length, offset);
        if (done > 0)
            note(WRITE, of(fd), offset, bytes, done);
    }
    pthread_mutex_unlock(&turn);
    return done;
}

ssize_t pwrite64(int fd, const void *bytes, size_t length, off64_t offset)
{
    return of(fd) ? put(fd, bytes, length, offset) : real_pwrite(fd, bytes, length, offset);
}

ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset)
{
    return pwrite64(fd, bytes, length, offset);
}

ssize_t write(int fd, const void *bytes, size_t length)
{
    if (!of(fd))
        return real_write(fd, bytes, length);
    ssize_t done = put(fd, bytes, length, lseek64(fd, 0, SEEK_CUR));
    if (done > 0)
        lseek64(fd, done, SEEK_CUR);
    return done;
}

static int sync_with(int (*real)(int), int fd)
{
    if (!of(fd))
        return real(fd);
    pthread_mutex_lock(&turn);
    int failed = fails();
    if (!failed)
        note(SYNC_BEGIN, of(fd), 0, NULL, 0);
    pthread_mutex_unlock(&turn);
    if (failed || real(fd))
        return -1;
    pthread_mutex_lock(&turn);
    note(SYNC_END, of(fd), 0, NULL, 0);
    pthread_mutex_unlock(&turn);
    return 0;
}

int fsync(int fd) { return sync_with(real_fsync, fd); }
int fdatasync(int fd) { return sync_with(real_fdatasync, fd); }

int ftruncate64(int fd, off64_t length)
{
    if (!of(fd))
        return real_ftruncate(fd, length);
    pthread_mutex_lock(&turn);
    int done = fails() ? -1 : real_ftruncate(fd, length);
    if (!done)
        note(CUT, of(fd), length, NULL, 0);
    pthread_mutex_unlock(&turn);
    return done;
}

int ftruncate(int fd, off_t length) { return ftruncate64(fd, length); }

int unlink(const char *path)
{
    int file = which_of(path);
    if (!file)
        return real_unlink(path);
    pthread_mutex_lock(&turn);
    int done = real_unlink(path);
    if (!done)
        note(UNLINK, file, 0, NULL, 0);
    pthread_mutex_unlock(&turn);
    return done;
}
