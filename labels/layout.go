package labels

// layout finds the place of everything on one label of a sheet.
func layout(l Label, s Sheet, dpi int) (*ink, error) {
	w, h := s.content()
	k := &ink{w: w, h: h, dot: mmPerInch / float64(dpi)}
	if l.Payload != "" {
		symbol, err := NewSymbol(l.Payload)
		if err != nil {
			return nil, err
		}
		k.symbol = symbol
		if k.module, err = module(symbol.Side(), s.LabelW, s.LabelH, w, h, k.dot); err != nil {
			return nil, err
		}
	}
	compose(k, l.cleaned(s.LabelH))
	return k, nil
}
