package grow

import "testing"

func TestNamesThatCanBeSeen(t *testing.T) {
	t.Parallel()
	for text, good := range map[string]bool{
		"rack 2": true, "نعمة": true, "میز\u200cکار": true, // a zero-width non-joiner is Persian spelling
		"": false, " \u00a0": false, "\u200b": false, "a\u0000": false, "a\nb": false, "\u202eA": false, "a\u2066b": false,
	} {
		var p Problems
		if CheckName(&p, "name", text); (len(p) == 0) != good {
			t.Errorf("%q: %v", text, p)
		}
	}
}
