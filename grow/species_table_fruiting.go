package grow

func published(low, high float64, source string) Span {
	return Span{Low: low, High: high, Mark: Published, Source: source}
}

func practice(low, high float64) Span { return Span{Low: low, High: high, Mark: CommonPractice} }

func memory(low, high float64) Span { return Span{Low: low, High: high, Mark: FromMemory} }

// builtInFruiting: pinning first, then growing; days between flushes; biological
// efficiency.
var builtInFruiting = map[Slug]FruitingGuide{
	"pleurotus-ostreatus": {
		Pinning: Climate{published(10, 16, seenTradePage), published(3, 5, seenTradePage), published(95, 100, seenTradePage),
			published(0, 1000, seenTradePage+"; under 700 in "+seenExtension)},
		Growing: Climate{published(10, 21, seenTradePage), published(4, 7, seenTradePage), published(85, 90, seenTradePage), published(0, 1000, seenTradePage)},
		Flushes: published(3, 4, seenTradePage), Between: published(7, 14, seenTradePage), BE: practice(75, 130),
	},
	"pleurotus-pulmonarius": {
		Pinning: Climate{published(10, 24, seenStamets+"p. 325"), published(3, 5, seenStamets+"p. 325"), published(95, 100, seenStamets+"p. 325"), published(400, 800, seenStamets+"p. 325")},
		Growing: Climate{published(18, 27, seenStamets+"p. 325"), published(3, 5, seenStamets+"p. 325"), published(85, 90, seenStamets+"p. 325"), published(400, 800, seenStamets+"p. 325")},
		Flushes: published(3, 3, seenStamets+"p. 325"), Between: published(7, 10, seenStamets+"p. 325"), BE: practice(75, 120),
	},
	"pleurotus-eryngii": {
		Pinning: Climate{published(10, 15, seenTradePage), memory(4, 7), published(95, 100, seenTradePage), memory(500, 1000)},
		Growing: Climate{published(12, 21, seenTradePage), published(7, 7, seenTradePage), published(80, 90, seenTradePage), practice(1000, 2000)},
		Flushes: memory(1, 2), Between: memory(14, 14), BE: practice(40, 80),
	},
	"pleurotus-citrinopileatus": {
		Pinning: Climate{published(21, 27, seenStamets+"p. 290"), published(3, 5, seenStamets+"p. 290"), published(98, 100, seenStamets+"p. 290"), published(0, 1000, seenStamets+"p. 290")},
		Growing: Climate{published(21, 29, seenStamets+"p. 290"), published(3, 5, seenStamets+"p. 290"), published(90, 95, seenStamets+"p. 290"), published(0, 1000, seenStamets+"p. 290")},
		Flushes: published(2, 2, seenStamets+"p. 290"), Between: published(10, 14, seenStamets+"p. 290"), BE: practice(50, 90),
	},
	"pleurotus-djamor": {
		Pinning: Climate{memory(18, 25), memory(2, 4), memory(95, 100), memory(500, 1000)},
		Growing: Climate{memory(20, 30), memory(3, 5), memory(85, 90), memory(500, 1500)},
		Flushes: memory(2, 3), Between: memory(7, 10), BE: practice(60, 100),
	},
	"hericium-erinaceus": {
		Pinning: Climate{memory(10, 16), published(3, 5, seenHandbookCopy), published(95, 100, seenHandbookCopy), memory(500, 700)},
		Growing: Climate{published(18, 24, seenHandbookCopy), published(4, 5, seenHandbookCopy), published(85, 95, seenHandbookCopy), published(500, 1000, seenHandbookCopy)},
		Flushes: published(2, 2, seenHandbookCopy), Between: published(14, 14, seenHandbookCopy), BE: published(26, 70, seenKo+"; four species of Hericium"),
	},
	"flammulina-filiformis": {
		Pinning: Climate{published(7, 10, seenStamets+"p. 231"), published(3, 5, seenStamets+"p. 231"), published(95, 100, seenStamets+"p. 231"), published(2000, 4000, seenStamets+"p. 231")},
		Growing: Climate{published(10, 16, seenStamets+"p. 231"), published(5, 8, seenStamets+"p. 231"), published(90, 95, seenStamets+"p. 231"), published(2000, 4000, seenStamets+"p. 231")},
		Flushes: published(2, 3, seenStamets+"p. 231"), Between: published(10, 12, seenStamets+"p. 231"), BE: practice(60, 120),
	},
	"hypsizygus-marmoreus": {
		Pinning: Climate{published(10, 15, seenTradePage), published(7, 14, seenTradePage), published(98, 100, seenTradePage), memory(500, 1000)},
		Growing: Climate{published(13, 18, seenTradePage), published(10, 14, seenTradePage), published(90, 95, seenTradePage), practice(2000, 4000)},
		Flushes: memory(1, 2), Between: memory(14, 20), BE: practice(50, 90),
	},
	// Shiitake: pinning is a day of shock at 10 to 16 °C, then 5 to 7 days at 16
	// to 21; the figures are those of the days after the shock.
	"lentinula-edodes": {
		Pinning: Climate{published(16, 21, seenTradePage), published(5, 7, seenTradePage), memory(95, 100), memory(0, 1000)},
		Growing: Climate{published(10, 21, seenTradePage), published(5, 8, seenTradePage), memory(60, 85), memory(0, 1000)},
		Flushes: published(3, 5, seenTradePage), Between: published(14, 21, seenTradePage), BE: published(50, 100, seenTradePage),
	},
	"pholiota-microspora": {
		Pinning: Climate{published(10, 16, seenTradePage), memory(7, 10), memory(98, 100), memory(500, 1000)},
		Growing: Climate{memory(10, 16), memory(5, 8), memory(90, 95), memory(0, 1200)},
		Flushes: memory(2, 2), Between: memory(20, 30), BE: practice(40, 80),
	},
	"pholiota-adiposa": {
		Pinning: Climate{memory(12, 18), memory(5, 10), memory(95, 100), memory(0, 1000)},
		Growing: Climate{memory(13, 18), memory(5, 8), memory(85, 95), memory(0, 1000)},
		Flushes: memory(2, 2), Between: memory(14, 20), BE: practice(50, 90),
	},
	"cyclocybe-aegerita": {
		Pinning: Climate{published(10, 16, seenTradePage), published(7, 14, seenTradePage), published(95, 100, seenTradePage), published(0, 2000, seenTradePage)},
		Growing: Climate{published(13, 18, seenTradePage), published(4, 6, seenTradePage), published(95, 100, seenTradePage), published(0, 2000, seenTradePage)},
		Flushes: published(2, 2, seenTradePage), Between: published(10, 14, seenTradePage), BE: practice(40, 80),
	},
	// Maitake seldom flushes twice; the biological efficiencies are those of
	// crops of 12 and of 10 weeks.
	"grifola-frondosa": {
		Pinning: Climate{memory(13, 18), memory(5, 10), memory(95, 95), memory(2000, 5000)},
		Growing: Climate{memory(13, 18), memory(14, 20), memory(85, 95), memory(0, 1000)},
		Flushes: practice(1, 1), BE: published(44, 47.1, seenShen),
	},
	// Reishi pins into antlers at some 20,000 ppm, into caps below 2,000; the
	// figures are for caps.
	"ganoderma-lingzhi": {
		Pinning: Climate{memory(21, 27), memory(14, 28), memory(95, 100), memory(0, 2000)},
		Growing: Climate{memory(21, 27), memory(60, 60), memory(90, 95), memory(0, 2000)},
		Flushes: memory(1, 2), Between: memory(90, 120), BE: memory(5, 25),
	},
	"stropharia-rugosoannulata": {
		Pinning: Climate{memory(10, 16), memory(14, 21), memory(98, 100), memory(0, 1500)},
		Growing: Climate{memory(16, 21), memory(7, 14), memory(85, 95), memory(0, 1500)},
		Flushes: memory(2, 2), Between: memory(21, 28), BE: practice(20, 60),
	},
}
