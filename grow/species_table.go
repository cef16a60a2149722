package grow

// Where the published figures of the two tables were seen. A work seen only as
// an abstract is cited all the same; a page of the trade, or a handbook page
// seen in somebody's copy, is called just that.
const (
	seenHandbookCopy = "a growers' handbook, seen second-hand"
	seenTradePage    = "a trade page"
	seenExtension    = "an extension bulletin on oyster mushrooms, seen in a copy"
	seenStamets      = "Stamets 2000, Growing Gourmet and Medicinal Mushrooms, "
	seenFujian       = "Fujian Journal of Agricultural Sciences 2022 (2), doi 10.19303/j.issn.1008-0384.2022.002.009"
	seenGrigansky    = "Grigansky, Solomko & Kirchhoff 1999, Int. J. Med. Mushrooms 1: 81-87"
	seenHu           = "Hu et al. 2023, Horticulturae 9: 95"
	seenImtiaj       = "Imtiaj et al. 2008, Mycobiology 36: 88-92"
	seenKo           = "Ko et al. 2005, Bioresource Technology 96: 1439-1444"
	seenMata         = "Mata & Mishra 2015, Int. J. Med. Mushrooms 17: 481-489"
	seenShen         = "Shen & Royse 2001, Appl. Microbiol. Biotechnol. 57: 74-78"
	seenSoylu        = "Soylu, Boztok & Esiyok 2016, Acta Horticulturae 1123: 207-214"
	seenZervakis     = "Zervakis et al. 2001, Folia Microbiologica 46: 231-234"
)

// usually is a spawn run in days by common practice: no published work gives
// days for supplemented bags of 2 to 3 kg.
func usually(low, typical, high float64) Range {
	return Range{Low: low, Typical: typical, High: high, Mark: CommonPractice}
}

func ripening(low, high float64) Span { return Span{Low: low, High: high, Mark: CommonPractice} }

// remembered are cardinal temperatures built from memory around the published
// optima and limits.
func remembered(min, opt, max float64) Cardinal {
	return Cardinal{MinC: min, OptC: opt, MaxC: max, Mark: FromMemory}
}

var builtInSpecies = []Species{
	{
		Slug: "pleurotus-ostreatus", Name: "oyster", Short: "OYSTER", Latin: "Pleurotus ostreatus",
		Names: []string{"oyster", "grey oyster", "blue oyster", "pearl oyster", "white oyster"},
		SpawnRun: SpawnRun{
			Days:     usually(10, 13, 18),
			TempC:    Range{18, 22, 24, CommonPractice, "target: " + seenHu},
			CeilingC: Figure{30, FromMemory, ""},
		},
		RipeningDays: ripening(0, 4), Ready: ReadyAllGrown, Pace: Fast, FirstSignDay: 2,
		Look:      "Thick and white with a ropy edge. Yellow to amber drops beside white growth are ordinary.",
		ReadySign: "White all over. It may pin in the bag from day 14 to 21: move it before.", ReadyQuestion: "White all over?", PinWord: "Pins",
		Growth: remembered(3, 27, 36),
	},
	{
		Slug: "pleurotus-pulmonarius", Name: "phoenix oyster", Short: "PULMO", Latin: "Pleurotus pulmonarius",
		Older: []string{"sajor-caju", "Pleurotus sajor-caju"},
		Names: []string{"phoenix oyster", "Indian oyster", "Italian oyster"},
		SpawnRun: SpawnRun{
			Days:     usually(9, 12, 16),
			TempC:    Range{20, 25, 28, Published, seenStamets + "p. 325; " + seenFujian},
			CeilingC: Figure{32, Published, seenFujian},
		},
		RipeningDays: ripening(0, 3), Ready: ReadyAllGrown, Pace: Fast, FirstSignDay: 2,
		Look:      "Like grey oyster, a little finer: white, with a ropy edge and now and then yellow drops.",
		ReadySign: "White all over; pins follow quickly.", ReadyQuestion: "White all over?", PinWord: "Pins",
		Growth: remembered(5, 28.5, 38),
	},
	{
		Slug: "pleurotus-eryngii", Name: "king oyster", Short: "KING", Latin: "Pleurotus eryngii",
		Names: []string{"king oyster", "king trumpet", "king"},
		SpawnRun: SpawnRun{
			Days:     usually(12, 16, 24),
			TempC:    Range{20, 23, 25, Published, seenSoylu},
			CeilingC: Figure{30, Published, seenSoylu},
		},
		RipeningDays: ripening(3, 10), Ready: ReadyDays, Pace: Thin, FirstSignDay: 3,
		Look:      "Fine and even, thinner than grey oyster. The block firms up late.",
		EyeNote:   "Finer and thinner than grey oyster; firms at the end.",
		ReadySign: "A firm block, then pins at the top. They can keep you waiting two to four weeks.", ReadyQuestion: "Firm yet, or pins at the top?", PinWord: "Pins",
		Growth: Cardinal{8, 25.3, 33.1, Published, seenSoylu + "; our fit, lower limit fixed by us"},
	},
	{
		Slug: "pleurotus-citrinopileatus", Name: "golden oyster", Short: "GOLDEN", Latin: "Pleurotus citrinopileatus",
		Older: []string{"Pleurotus cornucopiae var. citrinopileatus", "Pleurotus cornucopiae"},
		Names: []string{"golden oyster", "yellow oyster"},
		SpawnRun: SpawnRun{
			Days:     usually(9, 12, 16),
			TempC:    Range{22, 25, 28, Published, seenStamets + "p. 290"},
			CeilingC: Figure{33, FromMemory, ""},
		},
		RipeningDays: ripening(0, 2), Ready: ReadyAllGrown, Pace: Thin, FirstSignDay: 3,
		Look:      "Thin to medium and patchy; the sawdust shows through.",
		EyeNote:   "Patchy is normal too; the sawdust shows through.",
		ReadySign: "White with a yellow tint, and tiny pins.", ReadyQuestion: "Yellow tint, or tiny pins?", PinWord: "Pins",
		Growth: remembered(8, 28, 36),
	},
	{
		Slug: "pleurotus-djamor", Name: "pink oyster", Short: "PINK", Latin: "Pleurotus djamor",
		Names: []string{"pink oyster"},
		SpawnRun: SpawnRun{
			Days:     usually(8, 12, 20),
			TempC:    Range{22, 26, 29, FromMemory, ""},
			CeilingC: Figure{35, FromMemory, ""},
		},
		RipeningDays: ripening(0, 2), Ready: ReadyPins, Pace: Fast, FirstSignDay: 2,
		Look:      "White, then tinged with pink. Milky grey fluid at the bottom is ordinary for it.",
		EyeNote:   "Pink tones and milky fluid at the bottom are normal.",
		ReadySign: "Pink pins.", ReadyQuestion: "Pink pins?", PinWord: "Pins",
		Growth: remembered(10, 29, 38),
	},
	{
		Slug: "hericium-erinaceus", Name: "lion's mane", Short: "LION", Latin: "Hericium erinaceus",
		Names: []string{"lion's mane", "pom pom"},
		SpawnRun: SpawnRun{
			Days:     usually(10, 14, 22),
			TempC:    Range{20, 23, 25, Published, seenGrigansky + "; " + seenImtiaj},
			CeilingC: Figure{33, Published, seenTradePage},
		},
		RipeningDays: ripening(0, 5), Ready: ReadyPins, Pace: Thin, FirstSignDay: 4,
		Look:      "Thin, wispy and grey-white: it seems to stand still, then finishes in one to three days.",
		EyeNote:   "Thin and grey is normal; torch behind.",
		ReadySign: "Small white knobs at the filter or at holes, often before the block is white.", ReadyQuestion: "White knobs at the filter or seam?", PinWord: "Knobs",
		Growth: Cardinal{4, 25.5, 35.5, FromMemory, "limits: " + seenGrigansky},
	},
	{
		Slug: "flammulina-filiformis", Name: "enoki", Short: "ENOKI", Latin: "Flammulina filiformis",
		Older: []string{"Flammulina velutipes"},
		Names: []string{"enoki", "enokitake", "winter mushroom", "velvet foot"},
		SpawnRun: SpawnRun{
			Days:     usually(12, 16, 22),
			TempC:    Range{14, 18, 22, CommonPractice, "upper part: " + seenStamets + "p. 231"},
			CeilingC: Figure{28, FromMemory, ""},
		},
		RipeningDays: ripening(3, 7), Ready: ReadyDays, Pace: Thin, FirstSignDay: 3,
		Look:      "White and fine; light brown to golden spots later. The surface is like fine sandpaper and may bead before it pins.",
		EyeNote:   "Fine growth is normal; golden spots come later.",
		ReadySign: "White all over with golden flecks. It needs a chill to pin.", ReadyQuestion: "White all over, golden flecks?", PinWord: "Pins",
		Growth: remembered(3, 23, 33),
	},
	{
		Slug: "hypsizygus-marmoreus", Name: "beech", Short: "BEECH", Latin: "Hypsizygus marmoreus",
		Older: []string{"Hypsizygus tessulatus"},
		Names: []string{"beech", "beech mushroom", "brown beech", "white beech", "shimeji"},
		SpawnRun: SpawnRun{
			Days:     usually(28, 35, 45),
			TempC:    Range{18, 22, 24, Published, seenTradePage},
			CeilingC: Figure{28, Published, seenTradePage},
		},
		RipeningDays: Span{30, 60, FromMemory, ""}, Ready: ReadyDays, Pace: Slow, FirstSignDay: 5,
		Look:      "Even white, then mottled. It looks finished long before it is ripe.",
		EyeNote:   "It looks finished long before it is ripe.",
		ReadySign: "Count days since grown over, do not go by looks; a faint tan helps.", ReadyQuestion: "A faint tan?", PinWord: "Pins",
		Growth: remembered(5, 23, 31),
	},
	{
		Slug: "lentinula-edodes", Name: "shiitake", Short: "SHII", Latin: "Lentinula edodes",
		Older: []string{"Lentinus edodes"},
		Names: []string{"shiitake"},
		SpawnRun: SpawnRun{
			Days:     usually(21, 28, 40),
			TempC:    Range{20, 23, 25, Published, seenMata + "; " + seenZervakis + "; trade pages"},
			CeilingC: Figure{30, Published, seenMata},
		},
		RipeningDays: ripening(30, 60), Ready: ReadyBrowning, Pace: Slow, FirstSignDay: 5,
		Look:      "A thick white coat that blisters, then a brown skin. Brown fluid is ordinary.",
		EyeNote:   "Blisters, brown skin and brown fluid are normal.",
		ReadySign: "A third to two thirds brown, with firm blisters.", ReadyQuestion: "A third to two thirds brown?", PinWord: "Pins",
		Growth: remembered(5, 25, 33),
	},
	{
		Slug: "pholiota-microspora", Name: "nameko", Short: "NAMEKO", Latin: "Pholiota microspora",
		Older: []string{"Pholiota nameko"},
		Names: []string{"nameko"},
		SpawnRun: SpawnRun{
			Days:     usually(21, 28, 40),
			TempC:    Range{18, 21, 23, CommonPractice, ""},
			CeilingC: Figure{30, Published, seenTradePage},
		},
		RipeningDays: ripening(20, 40), Ready: ReadyDays, Pace: Slow, FirstSignDay: 5,
		Look:      "Whitish, growing out in rays; orange-tawny from the centre with age.",
		EyeNote:   "Orange-tawny from the centre is age, not mould.",
		ReadySign: "A tawny tint.", ReadyQuestion: "A tawny tint?", PinWord: "Pins",
		Growth: remembered(4, 23.5, 32),
	},
	{
		Slug: "cyclocybe-aegerita", Name: "black poplar", Short: "POPLAR", Latin: "Cyclocybe aegerita",
		Older: []string{"Agrocybe aegerita"},
		Names: []string{"black poplar", "pioppino"},
		SpawnRun: SpawnRun{
			Days:     usually(18, 24, 32),
			TempC:    Range{20, 24, 26, Published, seenZervakis + "; " + seenTradePage},
			CeilingC: Figure{32, FromMemory, ""},
		},
		RipeningDays: ripening(7, 14), Ready: ReadyPins, Pace: Slow, FirstSignDay: 4,
		Look:      "White and patchy, with tan to brown spots.",
		EyeNote:   "Patchy with tan to brown spots is normal.",
		ReadySign: "Brown patches and small dark pins.", ReadyQuestion: "Brown patches, small dark pins?", PinWord: "Pins",
		Growth: remembered(6, 26.5, 35),
	},
	{
		Slug: "pholiota-adiposa", Name: "chestnut mushroom", Short: "CHSTNT", Latin: "Pholiota adiposa",
		Names: []string{"chestnut mushroom", "chestnut"},
		SpawnRun: SpawnRun{
			Days:     usually(14, 20, 30),
			TempC:    Range{20, 23, 26, FromMemory, ""},
			CeilingC: Figure{32, FromMemory, ""},
		},
		RipeningDays: ripening(5, 14), Ready: ReadyPins, Pace: Thin, FirstSignDay: 3,
		Look:      "Fine, white to pale yellow; tawny flecks come at the end.",
		EyeNote:   "Fine and pale yellow is normal; tawny flecks come at the end.",
		ReadySign: "Tawny flecks and small pins with dark tips.", ReadyQuestion: "Tawny flecks, small dark-tipped pins?", PinWord: "Pins",
		Growth: remembered(5, 25, 34),
	},
	{
		Slug: "grifola-frondosa", Name: "maitake", Short: "MAITAK", Latin: "Grifola frondosa",
		Names: []string{"maitake", "hen of the woods"},
		SpawnRun: SpawnRun{
			Days:     usually(28, 35, 50),
			TempC:    Range{20, 23, 25, FromMemory, ""},
			CeilingC: Figure{30, FromMemory, ""},
		},
		RipeningDays: ripening(10, 30), Ready: ReadyPins, Pace: Slow, FirstSignDay: 5,
		Look:      "Thin and slow; then a grey bumpy mat on top with dark droplets.",
		EyeNote:   "Thin is normal; a grey bumpy mat and dark drops come later.",
		ReadySign: "Grey-black knobs, folded like a brain.", ReadyQuestion: "Grey-black folded knobs on top?", PinWord: "Knobs",
		Growth: remembered(5, 25, 34),
	},
	{
		Slug: "ganoderma-lingzhi", Name: "reishi", Short: "REISHI", Latin: "Ganoderma lingzhi",
		Older: []string{"Ganoderma lucidum"},
		Names: []string{"reishi", "lingzhi"},
		SpawnRun: SpawnRun{
			Days:     usually(14, 18, 28),
			TempC:    Range{22, 26, 29, FromMemory, ""},
			CeilingC: Figure{35, FromMemory, ""},
		},
		RipeningDays: ripening(0, 7), Ready: ReadyPins, Pace: Fast, FirstSignDay: 3,
		Look:      "Dense and tough, with a yellow-orange crust.",
		EyeNote:   "A tough yellow-orange crust is normal.",
		ReadySign: "Knobs with white tips at the filter.", ReadyQuestion: "White-tipped knobs at the filter?", PinWord: "Knobs",
		Growth: remembered(10, 29, 37),
	},
	{
		Slug: "stropharia-rugosoannulata", Name: "wine cap", Short: "WINE", Latin: "Stropharia rugosoannulata",
		Names: []string{"wine cap", "king stropharia"},
		SpawnRun: SpawnRun{
			Days:     usually(28, 35, 50),
			TempC:    Range{20, 23, 26, FromMemory, ""},
			CeilingC: Figure{32, FromMemory, ""},
		},
		RipeningDays: ripening(0, 0), Ready: ReadyAllGrown, Pace: Slow, FirstSignDay: 4,
		Look:      "Ropy, white and open. It does poorly on sterile substrate and wants casing and the microbes in it.",
		EyeNote:   "Ropy and open is normal.",
		ReadySign: "Grown over: it goes to casing or to a bed.", ReadyQuestion: "Grown over?", PinWord: "Pins",
		Growth: remembered(5, 25, 34),
	},
}
