package static

import (
	"os/exec"
	"strings"
	"testing"
)

func TestLeanLeavesTheCode(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, in, want string }{
		{"a.js", "// why\nlet a = 1; // here\n\n  if (a) {\n    b(\"// = {\", `${ c }, `);\n  } else {\n d = - -e\n}\n", "let a=1;if(a){b(\"// = {\",`${ c }, `);\n}else{d=- -e\n}\n"},
		{"a.css", "/* why\n   so */\n@layer base {\n  a { color: inherit; } /* so */\n}\n", "@layer base{a{color:inherit}}"},
		{"a.svg", "<svg>\n  <!-- x -->\n</svg>", "<svg>\n  <!-- x -->\n</svg>"},
	} {
		if got := string(Lean(c.name, []byte(c.in))); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

// What travels must mean what was written: no string goes over two lines, and
// where Node is at hand each file still parses.
func TestLeanScriptsParse(t *testing.T) {
	t.Parallel()
	node, _ := exec.LookPath("node")
	for _, pattern := range []string{"js/*.js", "js/lib/*.js", "js/ui/*.js"} {
		for name, js := range read(t, pattern) {
			lean := string(Lean(name, []byte(js)))
			if len(lean) == 0 || len(lean) > len(js) {
				t.Errorf("%s: %d bytes of %d", name, len(lean), len(js))
			}
			for line := range strings.Lines(js) {
				code, _, _ := strings.Cut(line, " // ")
				if strings.Count(code, `"`)%2 != 0 {
					t.Errorf("%s: a string with what looks like a comment: %s", name, line)
				}
				if strings.Count(line, "`")%2 != 0 || strings.Contains(line, "/*") && !strings.Contains(line, "*/") {
					t.Errorf("%s: a string or a comment over several lines: %s", name, line)
				}
			}
			if node == "" {
				continue
			}
			check := exec.CommandContext(t.Context(), node, "--check", "--input-type=module", "-")
			check.Stdin = strings.NewReader(lean)
			if out, err := check.CombinedOutput(); err != nil {
				t.Errorf("%s does not parse: %v\n%s", name, err, out)
			}
		}
	}
}
