package scanner

// The field of 256 elements by x⁸+x⁴+x³+x²+1 with its powers of 2, and
// Reed-Solomon decoding with erasures: Berlekamp-Massey started from the
// erasures' locator, Chien's search and Forney's formula (R. E. Blahut, Theory
// and Practice of Error Control Codes, chapter 7; ISO/IEC 18004, annex A and B).
// The library decodes errors only; a place known to be bad costs half as much.

var fieldExp, fieldLog = func() (exp [510]byte, log [256]int) {
	v := 1
	for i := range 255 {
		exp[i], exp[i+255] = byte(v), byte(v)
		log[v] = i
		if v <<= 1; v > 255 {
			v ^= 0x11d
		}
	}
	return exp, log
}()

func fieldMul(a, b byte) byte {
	if a == 0 || b == 0 {
		return 0
	}
	return fieldExp[fieldLog[a]+fieldLog[b]]
}

func fieldDiv(a, b byte) byte {
	if a == 0 {
		return 0
	}
	return fieldExp[fieldLog[a]+255-fieldLog[b]]
}

// evaluate is a polynomial, lowest term first, at x.
func evaluate(poly []byte, x byte) (v byte) {
	for i := len(poly) - 1; i >= 0; i-- {
		v = fieldMul(v, x) ^ poly[i]
	}
	return v
}

// correct mends a block of codewords in place, check codewords last. Erased are
// places known to be bad. It gives how many other places it changed; false if
// the block cannot be mended.
func correct(block []byte, check int, erased []int) (errors int, ok bool) {
	if len(erased) > check {
		return 0, false
	}
	n := len(block)
	syndromes := make([]byte, check)
	clean := true
	for i := range syndromes {
		var v byte
		for _, c := range block {
			v = fieldMul(v, fieldExp[i]) ^ c
		}
		syndromes[i] = v
		clean = clean && v == 0
	}
	if clean {
		return 0, true
	}
	locator := locate(syndromes, erased, n)
	degree := len(locator) - 1
	for degree > 0 && locator[degree] == 0 {
		degree--
	}
	locator = locator[:degree+1]
	if 2*(degree-len(erased)) > check-len(erased) || degree < len(erased) {
		return 0, false
	}
	return repair(block, syndromes, locator, len(erased))
}

// locate finds the locator polynomial of errors and erasures.
func locate(syndromes []byte, erased []int, n int) []byte {
	check := len(syndromes)
	locator := make([]byte, check+2)
	locator[0] = 1
	for k, e := range erased {
		x := fieldExp[n-1-e]
		for i := k + 1; i > 0; i-- {
			locator[i] ^= fieldMul(x, locator[i-1])
		}
	}
	length := len(erased)
	before, next := make([]byte, check+2), make([]byte, check+2)
	copy(before, locator)
	for r := length; r < check; r++ {
		var gap byte
		for i := 0; i <= r; i++ {
			gap ^= fieldMul(locator[i], syndromes[r-i])
		}
		copy(before[1:], before) // times x
		before[0] = 0
		if gap == 0 {
			continue
		}
		for i := range next {
			next[i] = locator[i] ^ fieldMul(gap, before[i])
		}
		if 2*length <= r+len(erased) {
			length = r + 1 + len(erased) - length
			for i := range before {
				before[i] = fieldDiv(locator[i], gap)
			}
		}
		copy(locator, next)
	}
	return locator
}

// repair finds the locator's roots and the values to add there.
func repair(block, syndromes, locator []byte, erasures int) (int, bool) {
	n, degree := len(block), len(locator)-1
	values := make([]byte, len(syndromes)) // syndromes times locator, cut off
	for i := range values {
		for j := 0; j <= min(i, degree); j++ {
			values[i] ^= fieldMul(locator[j], syndromes[i-j])
		}
	}
	slope := make([]byte, degree)
	for i := 1; i <= degree; i += 2 {
		slope[i-1] = locator[i]
	}
	roots := 0
	for at := range n {
		power := n - 1 - at
		inverse := fieldExp[(255-power)%255]
		if evaluate(locator, inverse) != 0 {
			continue
		}
		roots++
		s := evaluate(slope, inverse)
		if s == 0 {
			return 0, false
		}
		block[at] ^= fieldMul(fieldExp[power], fieldDiv(evaluate(values, inverse), s))
	}
	return degree - erasures, roots == degree
}

// generatorOf is the polynomial that a number of check codewords is made with,
// highest term first.
func generatorOf(check int) []byte {
	generator := make([]byte, check+1)
	generator[0] = 1
	for i := range check {
		for j := i + 1; j > 0; j-- {
			generator[j] ^= fieldMul(fieldExp[i], generator[j-1])
		}
	}
	return generator
}

// checkWords are the check codewords of a block of data.
func checkWords(data, generator []byte) []byte {
	rest := make([]byte, len(generator)-1)
	for _, d := range data {
		lead := d ^ rest[0]
		copy(rest, rest[1:])
		rest[len(rest)-1] = 0
		for j := range rest {
			rest[j] ^= fieldMul(lead, generator[j+1])
		}
	}
	return rest
}
