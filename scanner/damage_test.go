package scanner

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"bagmark/grow"
)

// blur spreads light as a lens out of focus (a disc) or in focus (a Gaussian)
// does. Radius is in pixels.
func (s *scene) blur(radius float64, disc bool) {
	if radius < 0.05 {
		return
	}
	var kernel [][3]float64
	reach := int(math.Ceil(radius * 2.5))
	if disc {
		reach = int(math.Ceil(radius + 0.5))
	}
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			d := math.Hypot(float64(dx), float64(dy))
			k := math.Exp(-d * d / (2 * radius * radius))
			if disc {
				k = max(0, min(1, radius+0.5-d))
			}
			if k > 0.003 {
				kernel = append(kernel, [3]float64{float64(dx), float64(dy), k})
			}
		}
	}
	s.convolve(kernel)
}

// shake smears light along a line of length pixels.
func (s *scene) shake(length, angle float64) {
	var kernel [][3]float64
	steps := int(length*2) + 1
	for i := range steps {
		t := (float64(i)/float64(max(1, steps-1)) - 0.5) * length
		kernel = append(kernel, [3]float64{t * math.Cos(angle), t * math.Sin(angle), 1})
	}
	s.convolve(kernel)
}

func (s *scene) convolve(kernel [][3]float64) {
	total := 0.0
	for _, k := range kernel {
		total += k[2]
	}
	out := make([]float32, len(s.light))
	for _, k := range kernel {
		fx, fy := math.Floor(k[0]), math.Floor(k[1])
		for _, c := range [4][3]float64{{0, 0, (1 - k[0] + fx) * (1 - k[1] + fy)}, {1, 0, (k[0] - fx) * (1 - k[1] + fy)}, {0, 1, (1 - k[0] + fx) * (k[1] - fy)}, {1, 1, (k[0] - fx) * (k[1] - fy)}} {
			if weight := float32(c[2] * k[2] / total); weight > 0 {
				s.addShifted(out, int(fx+c[0]), int(fy+c[1]), weight)
			}
		}
	}
	s.light = out
}

func (s *scene) addShifted(out []float32, dx, dy int, weight float32) {
	for y := range s.h {
		src := s.light[max(0, min(s.h-1, y+dy))*s.w:][:s.w]
		dst := out[y*s.w:][:s.w]
		for x := max(0, -dx); x < min(s.w, s.w-dx); x++ {
			dst[x] += weight * src[x+dx]
		}
		for x := 0; x < -dx; x++ {
			dst[x] += weight * src[0]
		}
		for x := s.w - dx; dx > 0 && x < s.w; x++ {
			dst[x] += weight * src[s.w-1]
		}
	}
}

// shadow darkens one side of a wavy line.
func (s *scene) shadow(at Point, depth, soft float64) {
	angle := s.between(0, 2*math.Pi)
	n := Point{math.Cos(angle), math.Sin(angle)}
	size := s.between(0.02, 0.08)
	for y := range s.h {
		for x := range s.w {
			p := Point{float64(x), float64(y)}.minus(at)
			d := p.dot(n) + 10*math.Sin(p.cross(n)*size)
			s.light[y*s.w+x] *= float32(1 - depth/(1+math.Exp(-d/soft)))
		}
	}
}

// glare adds a bright spot with a soft edge.
func (s *scene) glare(at Point, radius, power float64) {
	angle, long := s.between(0, math.Pi), s.between(1, 2.5)
	c, sn := math.Cos(angle), math.Sin(angle)
	for y := range s.h {
		for x := range s.w {
			p := Point{float64(x), float64(y)}.minus(at)
			d := math.Hypot((c*p.X+sn*p.Y)/long, -sn*p.X+c*p.Y) / radius
			if d < 2.5 {
				s.light[y*s.w+x] += float32(power * math.Exp(-d*d*d*d))
			}
		}
	}
}

// exposure turns light into 8-bit values: full scale white, haze added, noise.
func (s *scene) exposure(white, haze, noise float64) gray {
	g := newGray(s.w, s.h)
	slope := s.between(-0.2, 0.2)
	for i, v := range s.light {
		l := float64(v) * (1 + slope*(float64(i%s.w)/float64(s.w)-0.5))
		l = white * (haze + (1-haze)*l)
		l += s.random.NormFloat64() * noise * (0.5 + 0.5*math.Sqrt(max(0, l)/255))
		g.pix[i] = uint8(max(0, min(255, l+0.5)))
	}
	return g
}

// shot is a finished picture.
type shot struct {
	condition string
	data      []byte
	truths    []truth
}

// frameConditions are pictures of one label from a live camera, each from easy
// to hard as s goes from 0 to 1.
var frameConditions = []string{"plain", "tilt", "cylinder", "wrinkles", "defocus", "motion", "dim", "glare", "droplets", "torn",
	"smear", "pen", "small", "growth", "haze", "shadow", "mixed"}

// farmAddresses are the hosts of the scenes' labels: versions 2 to 4.
var farmAddresses = []grow.Address{"http://10.0.0.5", "http://192.168.1.20:8080", "http://FARM.LOCAL:8080", "https://192.168.178.101:8443", "https://BAGS.FARM.EXAMPLE"}

func drawCode(random *rand.Rand) grow.Code {
	code, err := grow.NewCode(bytesOf{random})
	if err != nil {
		panic(err)
	}
	return code
}

type bytesOf struct{ random *rand.Rand }

func (b bytesOf) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(b.random.Uint32())
	}
	return len(p), nil
}

// take is one label under a condition, before the camera.
type take struct {
	condition          string
	p                  *print
	pose               pose
	text               string
	code               grow.Code
	at                 Point
	size, px           float64
	hard, soft, moved  float64
	disc               bool
	white, haze, noise float64
	shadows, glares    int
}

// frame is one picture of one label under a condition.
func frame(t testing.TB, condition string, seed uint64) shot {
	random := rand.New(rand.NewPCG(seed, uint64(len(condition))*977+uint64(condition[0])*131+uint64(condition[1])))
	s := newScene(640, 480, random)
	return s.expose(s.newTake(t, condition))
}

// newTake makes a label, what is wrong with it and where it is held.
func (s *scene) newTake(t testing.TB, condition string) take {
	random := s.random
	hard := random.Float64()
	code := drawCode(random)
	text := farmAddresses[random.IntN(len(farmAddresses))].Payload(grow.BagCode, code)
	p := s.newPrint(t, text)
	px := s.between(3.2, 8)
	if condition == "small" {
		px = 2.9 - 1.5*hard
	}
	tilt, bend, axis := s.between(0, 0.35), 0.0, 0.0
	soft, disc, moved := s.between(0.05, 0.15)*px, false, 0.0
	white, haze, noise := s.between(180, 250), s.between(0, 0.08), s.between(1, 4)
	kinds := []string{condition}
	if condition == "mixed" {
		hard *= 0.6
		kinds = nil
		for _, i := range random.Perm(len(frameConditions) - 1)[:3] {
			kinds = append(kinds, frameConditions[i])
		}
	}
	var shadows, glares int
	for _, kind := range kinds {
		switch kind {
		case "tilt":
			tilt = 0.4 + 0.75*hard
		case "cylinder":
			bend, axis = (0.3+1.1*hard)*2/p.n, s.between(-0.2, 0.2)+float64(random.IntN(2))*math.Pi/2
		case "wrinkles":
			p.wrinkle(s, hard)
		case "defocus":
			soft, disc = (0.35+0.75*hard)*px, true
		case "motion":
			moved = (0.6 + 1.6*hard) * px
		case "dim":
			white, noise = 60-46*hard, 2+3*hard
		case "glare":
			glares = 1 + int(4*hard)
		case "droplets":
			p.wet(s, hard)
		case "torn":
			p.tearOff(s, hard)
		case "smear":
			p.smear, p.smearAt = 0.3+0.7*hard, s.between(0, 6)
			p.ink += 0.55 * hard * p.paper
		case "pen":
			p.scribble(s, hard)
		case "growth":
			p.growth = (0.1 + 0.5*hard) * []float64{1, 1, -0.8}[random.IntN(3)]
			for range random.IntN(4) {
				p.dead = append(p.dead, s.between(0, p.n))
			}
		case "haze":
			haze, white = 0.4+0.54*hard, s.between(120, 230)
		case "shadow":
			shadows = 1 + random.IntN(3)
		}
	}
	size := p.n * px / 2
	at := Point{s.between(min(size+10, 310), max(640-size-10, 330)), s.between(min(size+10, 230), max(480-size-10, 250))}
	pose := s.newPose(at, p.n, px, s.between(0, 2*math.Pi), tilt, s.between(0, 2*math.Pi))
	pose.bend, pose.axis = bend, axis
	return take{condition: condition, p: p, pose: pose, text: text, code: code, at: at, size: size, px: px, hard: hard, soft: soft,
		moved: moved, disc: disc, white: white, haze: haze, noise: noise, shadows: shadows, glares: glares}
}

// expose takes the picture: light, blur and noise are different each time.
func (s *scene) expose(k take) shot {
	s.draw(k.p, k.pose, k.text, k.code)
	for range k.shadows {
		s.shadow(k.at.plus(Point{s.between(-k.size, k.size), s.between(-k.size, k.size)}), 0.3+0.5*k.hard, s.between(0.5, 6))
	}
	s.blur(k.soft, k.disc)
	if k.moved > 0 {
		s.shake(k.moved, s.between(0, math.Pi))
	}
	for range k.glares {
		s.glare(k.at.plus(Point{s.between(-k.size, k.size), s.between(-k.size, k.size)}), k.size*s.between(0.1, 0.2+0.25*k.hard), s.between(0.4, 1.5))
	}
	return s.shoot(k.condition, k.white, k.haze, k.noise, 60+s.random.IntN(33))
}

func (s *scene) shoot(condition string, white, haze, noise float64, quality int) shot {
	g := s.exposure(white, haze, noise)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, g.image(), &jpeg.Options{Quality: quality}); err != nil {
		panic(err)
	}
	return shot{condition, b.Bytes(), s.truths}
}

func (p *print) wrinkle(s *scene, hard float64) {
	p.shadeOnBend = s.between(0.3, 1)
	for range 2 + s.random.IntN(3) {
		angle, length := s.between(0, 2*math.Pi), s.between(8, 30)
		k := 2 * math.Pi / length
		shift := s.between(0.1, 0.25+0.55*hard) * length / 18
		to := angle + s.between(-0.7, 0.7)
		p.waves = append(p.waves, wave{Point{k * math.Cos(angle), k * math.Sin(angle)}, s.between(0, 6.3), Point{shift * math.Cos(to), shift * math.Sin(to)}, s.between(0, 0.6)})
	}
}

func (p *print) wet(s *scene, hard float64) {
	for range int(p.n * (0.8 + 3.6*hard)) {
		r := math.Exp(s.between(math.Log(0.5), math.Log(1.2+2.2*hard)))
		p.drops = append(p.drops, drop{Point{s.between(-4, p.n+4), s.between(-4, p.n+4)}, r, s.between(0.45, 0.9)})
	}
}

// tearOff takes a corner or an edge away, up to about a quarter of the symbol.
func (p *print) tearOff(s *scene, hard float64) {
	angle := s.between(0, 2*math.Pi)
	a, b := math.Cos(angle), math.Sin(angle)
	far := p.n / 2 * (math.Abs(a) + math.Abs(b))
	p.torn, p.tear = true, [3]float64{a, b, p.n/2*(a+b) + far - (0.08+0.34*hard)*p.n*(0.6+0.4*math.Abs(a*b)*2)}
}

func (p *print) scribble(s *scene, hard float64) {
	for range 1 + int(3.9*hard) {
		at := Point{s.between(0, p.n), s.between(0, p.n)}
		if s.random.IntN(3) == 0 {
			at = []Point{{0, s.between(0, p.n)}, {p.n, s.between(0, p.n)}, {s.between(0, p.n), 0}, {s.between(0, p.n), p.n}}[s.random.IntN(4)]
		}
		angle, length := s.between(0, math.Pi), s.between(0.2, 0.7)*p.n
		d := Point{math.Cos(angle) * length, math.Sin(angle) * length}
		p.strokes = append(p.strokes, stroke{at.minus(d), at.plus(d), s.between(0.5, 1.2+0.8*hard), s.between(0.05, 0.25)})
	}
}

// wideConditions are pictures with many labels.
var wideConditions = []string{"several", "rack near", "rack far", "rack dim", "sheet", "close"}

// wide is one picture of many labels: 3 to 8 in a large frame, a rack of bags
// or a sheet of 3 × 7, both at 12 megapixels.
func wide(t testing.TB, condition string, seed uint64) shot {
	random := rand.New(rand.NewPCG(seed, uint64(len(condition))*4099+uint64(condition[len(condition)-1])))
	w, h, columns, rows := 4000, 3000, 4+random.IntN(2), 3+random.IntN(2)
	low, high := 4.5, 8.0
	white, noise, soft := 220.0, 3.0, 0.5
	switch condition {
	case "several":
		w, h, columns, rows = 1280, 960, 2+random.IntN(2), 2
		low, high = 3.0, 6
	case "rack far":
		columns, rows, low, high = 7, 5, 2.3, 3.6
	case "rack dim":
		white, noise, soft = 70, 5, 0.8
	case "sheet":
		columns, rows = 3, 7
	case "close":
		columns, rows, low, high, soft = 1, 1, 12, 70, s4(random)
	}
	s := newScene(w, h, random)
	address := farmAddresses[random.IntN(len(farmAddresses))]
	if condition == "sheet" {
		s.sheet(t, address)
	} else {
		s.shelf(t, address, columns, rows, low, high)
	}
	s.blur(soft*s.between(0.8, 1.8), false)
	return s.shoot(condition, white, s.between(0, 0.15), noise, 75+random.IntN(18))
}

// s4 is the blur of a picture taken from too near, in pixels.
func s4(random *rand.Rand) float64 { return 1 + 4*random.Float64() }

// shelf draws bags in rows, each turned and bent a little in its own way and
// some with a fault.
func (s *scene) shelf(t testing.TB, address grow.Address, columns, rows int, low, high float64) {
	for i := range columns * rows {
		code := drawCode(s.random)
		text := address.Payload(grow.BagCode, code)
		p := s.newPrint(t, text)
		px := s.between(low, high)
		cell := Point{float64(s.w) / float64(columns), float64(s.h) / float64(rows)}
		px = min(px, 0.8*min(cell.X, cell.Y)/p.n)
		p.wide = max(3, min(p.wide, cell.X/px-p.n-10))
		switch s.random.IntN(8) {
		case 0:
			p.wrinkle(s, 0.4*s.random.Float64())
		case 1:
			p.wet(s, 0.4*s.random.Float64())
		case 2:
			p.scribble(s, 0.3)
		case 3:
			p.growth = s.between(0, 0.3)
		}
		x, y := float64(i%columns), float64(i/columns)
		slack := cell.minus(Point{p.n * px, p.n * px}).times(0.35)
		at := Point{(x + 0.5) * cell.X, (y + 0.5) * cell.Y}.plus(Point{s.between(-slack.X, slack.X), s.between(-slack.Y, slack.Y)})
		pose := s.newPose(at, p.n, px, s.between(-0.4, 0.4), s.between(0, 0.7), s.between(0, 2*math.Pi))
		pose.bend, pose.axis = s.between(0, 0.8)*2/p.n, s.between(-0.1, 0.1)+math.Pi/2
		s.draw(p, pose, text, code)
	}
}

// sheet draws a printed sheet of 3 × 7 labels, seen at a slant.
func (s *scene) sheet(t testing.TB, address grow.Address) {
	code := drawCode(s.random)
	base := s.newPrint(t, address.Payload(grow.BagCode, code))
	px := s.between(4, 6)
	pose := s.newPose(Point{float64(s.w)/2 - 60, float64(s.h) / 2}, base.n, px, s.between(-0.15, 0.15)+math.Pi/2*float64(s.random.IntN(2)), s.between(0, 0.35), s.between(0, 6.28))
	pitchX, pitchY := base.n*3.2, base.n*1.85
	if pose.ex[0] < 0.5 { // sheet upright in a wide picture
		pitchX, pitchY = base.n*3.2, base.n*1.85
	}
	for i := range 21 {
		code := drawCode(s.random)
		text := address.Payload(grow.BagCode, code)
		p := s.newPrint(t, text)
		p.wide, p.tall = pitchX-p.n-9.5, pitchY-p.n-5
		for y := range p.words {
			p.words[y] = p.words[y][:min(len(p.words[y]), 2*int(p.wide))]
		}
		at := pose
		dx, dy := (float64(i%3)-1)*pitchX, (float64(i/3)-3)*pitchY
		at.origin = pose.origin.plus(pose.ex, dx).plus(pose.ey, dy)
		s.draw(p, at, text, code)
	}
}

// empty is one picture with none of our labels: plain bags, print, stripes,
// checks, foliage-like clutter or a stranger's symbol.
func empty(t testing.TB, _ string, seed uint64) shot {
	random := rand.New(rand.NewPCG(seed, 0xe))
	s := newScene(640, 480, random)
	kind := emptyKinds[seed%uint64(len(emptyKinds))]
	switch kind {
	case "print":
		p := s.newPrint(t, "http://10.0.0.5/B/00000000")
		for i, row := range p.dark {
			clear(row)
			copy(row, p.words[i])
		}
		s.draw(p, s.newPose(Point{300, 240}, p.n, s.between(2, 8), s.between(0, 6), s.between(0, 0.6), 1), "", "")
	case "stripes", "checks":
		size, angle := s.between(2, 30), s.between(0, 3)
		for i := range s.light {
			x, y := float64(i%s.w), float64(i/s.w)
			u, v := x*math.Cos(angle)+y*math.Sin(angle), -x*math.Sin(angle)+y*math.Cos(angle)
			if a, b := math.Sin(u/size) > 0, math.Sin(v/size) > 0; a != (kind == "checks" && b) {
				s.light[i] *= 0.3
			}
		}
	case "squares":
		for range 60 {
			s.square(Point{s.between(0, 640), s.between(0, 480)}, s.between(8, 60))
		}
	case "stranger", "web":
		text := "https://STRANGER.EXAMPLE/B/" + string(drawCode(random))
		if kind == "web" {
			text = fmt.Sprintf("https://example.org/%d/%d", random.Uint64(), random.Uint32())
		}
		p := s.newPrint(t, text)
		p.wrinkle(s, random.Float64())
		s.draw(p, s.newPose(Point{320, 240}, p.n, s.between(2, 8), s.between(0, 6), s.between(0, 0.9), 1), text, "")
	}
	s.truths = nil
	s.blur(s.between(0, 2.5), false)
	return s.shoot("empty", s.between(30, 250), s.between(0, 0.4), s.between(1, 6), 60+random.IntN(33))
}

var emptyKinds = []string{"bags", "print", "stripes", "checks", "squares", "stranger", "web"}

// square draws nested squares, which look like finders.
func (s *scene) square(at Point, size float64) {
	for y := max(0, int(at.Y-size)); y < min(s.h, int(at.Y+size)); y++ {
		for x := max(0, int(at.X-size)); x < min(s.w, int(at.X+size)); x++ {
			d := max(math.Abs(float64(x)-at.X), math.Abs(float64(y)-at.Y)) / size * 3.5
			v := float32(0.9)
			if d < 1.5 || d > 2.5 {
				v = 0.1
			}
			s.light[y*s.w+x] = v
		}
	}
}
