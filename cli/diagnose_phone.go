package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"bagmark/grow"

	"github.com/skip2/go-qrcode"
)

// phoneWait is how long a person may take to fetch a phone.
const phoneWait = 2 * time.Minute

// phone shows the address on the labels as a symbol. Where no server runs, it
// answers on the address's port itself and waits for another device to come;
// where one does, a person says what the phone shows.
func (d *diagnosing) phone(a grow.Address, running bool) {
	code, err := qrcode.New(string(a)+"/", qrcode.Medium)
	if err != nil {
		d.bad("phone", "the address makes no symbol: %s", err)
		return
	}
	fmt.Fprint(d.stdout, code.ToSmallString(false))
	if running {
		fmt.Fprint(d.stdout, "Open it with a phone's camera on the farm's Wi-Fi. Does the farm's page show? [y/n] ")
		line, _ := bufio.NewReader(d.stdin).ReadString('\n')
		if strings.HasPrefix(strings.ToLower(strings.TrimSpace(line)), "y") {
			d.fine("phone", "it reaches the farm")
		} else {
			d.bad("phone", "%s", whyNotReached)
		}
		return
	}
	fmt.Fprintf(d.stdout, "Open it with a phone's camera on the farm's Wi-Fi: waiting %s for it.\n", phoneWait)
	u, err := url.Parse(strings.ToLower(string(a)))
	if err != nil {
		d.bad("phone", "%s", err)
		return
	}
	port := u.Port()
	if port == "" {
		port = map[string]string{"http": "80", "https": "443"}[u.Scheme]
	}
	from, err := visitor(d.ctx, ":"+port, phoneWait)
	if err != nil {
		d.bad("phone", "%s: %s", err, whyNotReached)
		return
	}
	d.fine("phone", "a device at %s reached this computer", from)
}

const whyNotReached = "are phone and computer on the same Wi-Fi, is that a guest network, does a firewall of this computer keep the port shut?"

// visitor serves one page until a device that is not this computer asks for it.
func visitor(ctx context.Context, listen string, wait time.Duration) (from string, err error) {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	came := make(chan string, 1)
	web := &http.Server{ReadHeaderTimeout: 5 * time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		io.WriteString(w, "This phone reaches the farm's computer. You can close this page.\n")
		host, _, _ := net.SplitHostPort(r.RemoteAddr)
		if ip := net.ParseIP(host); ip != nil && !ip.IsLoopback() {
			select {
			case came <- host:
			default:
			}
		}
	})}
	go web.Serve(l)
	defer web.Shutdown(context.WithoutCancel(ctx))
	select {
	case from = <-came:
		return from, nil
	case <-ctx.Done():
		return "", errors.New("no other device came")
	}
}
