/* Sends prepared requests over some kept connections, one at a time on each; tells how long answers
 * took. A client in Python would be the slower half and flatter whoever is measured.
 *
 * load PORT[,PORT...] CONNECTIONS FILE
 * FILE: each request as its length (4 bytes, of this machine's order) and its bytes.
 * Prints: seconds, requests, answers that are not 2xx, and microseconds: p50, p90, p99, the longest.
 */
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define ROOM 262144

struct line {
    int fd;
    size_t had;
    double sent;
    char answer[ROOM];
};

static char *requests, *next_one, *past;
static double *took;
static size_t answered, unfit;

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void die(const char *why) {
    perror(why);
    exit(2);
}

/* 1 if there was one more to send. */
static int send_next(struct line *l) {
    uint32_t size;
    if (next_one >= past) return 0;
    memcpy(&size, next_one, sizeof size);
    next_one += sizeof size;
    l->sent = now();
    l->had = 0;
    for (size_t done = 0; done < size;) {
        ssize_t n = write(l->fd, next_one + done, size - done);
        if (n < 0) die("write");
        done += (size_t)n;
    }
    next_one += size;
    return 1;
}

/* 1 if the answer is whole. */
static int whole(struct line *l) {
    l->answer[l->had] = 0;
    char *end = strstr(l->answer, "\r\n\r\n");
    if (!end) return 0;
    char *length = strcasestr(l->answer, "content-length:");
    if (!length || length > end) {
        fprintf(stderr, "an answer without a length: %.200s\n", l->answer);
        exit(2);
    }
    size_t size = (size_t)(end + 4 - l->answer) + strtoul(length + 15, NULL, 10);
    if (size >= ROOM) {
        fprintf(stderr, "an answer of %zu bytes\n", size);
        exit(2);
    }
    return l->had >= size;
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double part(double share) { return 1e6 * took[(size_t)(share * (double)(answered - 1))]; }

int main(int argc, char **argv) {
    if (argc != 4) return 2;
    int ports[64], known = 0, connections = atoi(argv[2]);
    for (char *p = strtok(argv[1], ","); p && known < 64; p = strtok(NULL, ",")) ports[known++] = atoi(p);
    FILE *file = fopen(argv[3], "rb");
    if (!file || !known || connections < 1) die(argv[3]);
    fseek(file, 0, SEEK_END);
    size_t size = (size_t)ftell(file), count = 0;
    rewind(file);
    requests = malloc(size + 1);
    if (!requests || fread(requests, 1, size, file) != size) die(argv[3]);
    next_one = requests, past = requests + size;
    for (char *p = requests; p < past; count++) {
        uint32_t one;
        memcpy(&one, p, sizeof one);
        p += sizeof one + one;
    }
    took = calloc(count + 1, sizeof *took);
    struct line *lines = calloc((size_t)connections, sizeof *lines);
    int poll = epoll_create1(0), open = 0;
    if (!took || !lines || poll < 0) die("memory");
    for (int i = 0; i < connections; i++) {
        struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)ports[i % known])};
        to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        lines[i].fd = socket(AF_INET, SOCK_STREAM, 0);
        int one = 1;
        if (connect(lines[i].fd, (struct sockaddr *)&to, sizeof to) < 0) die("connect");
        setsockopt(lines[i].fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
        struct epoll_event wanted = {.events = EPOLLIN, .data.ptr = &lines[i]};
        epoll_ctl(poll, EPOLL_CTL_ADD, lines[i].fd, &wanted);
    }
    double begun = now();
    for (int i = 0; i < connections; i++) open += send_next(&lines[i]);
    while (open) {
        struct epoll_event ready[256];
        int found = epoll_wait(poll, ready, 256, 60000);
        if (found < 0 && errno != EINTR) die("epoll_wait");
        if (found == 0) {
            fprintf(stderr, "no answer in a minute\n");
            return 2;
        }
        for (int i = 0; i < found; i++) {
            struct line *l = ready[i].data.ptr;
            ssize_t n = read(l->fd, l->answer + l->had, ROOM - 1 - l->had);
            if (n <= 0) die("the server hung up");
            l->had += (size_t)n;
            if (!whole(l)) continue;
            took[answered++] = now() - l->sent;
            if (l->answer[9] != '2' && unfit++ == 0) fprintf(stderr, "%.600s\n", l->answer);
            open -= !send_next(l);
        }
    }
    double seconds = now() - begun;
    qsort(took, answered, sizeof *took, by_size);
    printf("%.6f %zu %zu %.0f %.0f %.0f %.0f\n", seconds, answered, unfit, part(0.5), part(0.9), part(0.99),
           part(1.0));
    return 0;
}
