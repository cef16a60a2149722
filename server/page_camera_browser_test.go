package server

import (
	"strings"
	"testing"
)

// TestCameraThatIsNotThere: refused, missing or busy, the page says so in a
// sentence and names the other ways at once.
func TestCameraThatIsNotThere(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	for name, words := range map[string]string{"NotAllowedError": "not allowed for this page", "NotFoundError": "has no camera", "NotReadableError": "Another program is using the camera"} {
		for _, path := range []string{"/scan", "/bench", "/sweep"} {
			p.goTo(path)
			p.evaluate(`navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("no", "` + name + `"); }; ""`)
			p.tap("[data-ui=camera] button:not([hidden])")
			p.until(`document.querySelector("[data-ui=camera] [role=status]").textContent.includes("` + words + `")`)
			if says := p.evaluate(`document.querySelector("[data-ui=camera] [role=status]").textContent`); !strings.Contains(says, "type the eight characters") {
				t.Errorf("%s: %q does not name the other ways", name, says)
			}
			if p.evaluate(`String(document.querySelector("video").hidden)`) != "true" {
				t.Errorf("%s: an empty picture is shown", name)
			}
		}
	}
}

// TestCameraGoesOutWithThePage: the light is offered where the camera has one;
// a good picture is asked for; the screen stays on while it films and nothing
// films a page that is not looked at.
func TestCameraGoesOutWithThePage(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.goTo("/bench")
	p.evaluate(`{
		window.did = [];
		const canvas = Object.assign(document.createElement("canvas"), { width: 1280, height: 960 });
		setInterval(() => canvas.getContext("2d").fillRect(Math.random() * 99, 0, 9, 9), 50);
		const stream = canvas.captureStream(20);
		const [track] = stream.getVideoTracks();
		track.getCapabilities = () => ({ torch: true });
		track.applyConstraints = async (wanted) => { window.did.push("torch " + wanted.advanced[0].torch); };
		const end = track.stop.bind(track);
		track.stop = () => { window.did.push("stopped"); end(); };
		navigator.mediaDevices.getUserMedia = async ({ video }) => { window.did.push(video.width.ideal >= 1280 && video.height.ideal >= 960 ? "fine" : "coarse", video.facingMode); return stream; };
		Object.defineProperty(navigator, "wakeLock", { value: { request: async () => { window.did.push("awake"); return { release: async () => { window.did.push("may sleep"); } }; } } });
	} ""`)
	p.tap("[data-ui=camera] .buttons button:first-child")
	p.until(`window.did.join() === "fine,environment,awake"`)
	p.tap("[data-ui=camera] .buttons button:nth-child(2)")
	p.until(`window.did.at(-1) === "torch true"`)
	p.evaluate(`Object.defineProperty(document, "hidden", { value: true, configurable: true }); document.dispatchEvent(new Event("visibilitychange")); ""`)
	p.until(`window.did.includes("stopped") && window.did.includes("may sleep") && document.querySelector("video").hidden`)
}
