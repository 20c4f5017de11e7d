package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// A lead that is put elsewhere shows what it does, and the log says how soon, as
// the browser sees it: from the finger's touch to the frame that is drawn anew.
func TestMoveAtOnce(t *testing.T) {
	b := newBench(t, true)
	b.page("/hookups/rope%20lights") // as a look ahead would
	s := newScreen(t, chromium(t), view{"phone", 390, 844, "light", true, true}, b.server.URL)
	var took, drawn []float64
	for _, pair := range [][2]string{{"F1.5", "F1.6"}, {"F1.5", "F2.6"}, {"F2.5", "F2.6"}, {"F1.1", "F1.2"}, {"F2.1", "F2.2"}, {"F1.6", "F2.5"}, {"F1.2", "F2.5"}} {
		s.open("/hookups/rope%20lights")
		pin := func(key, name string) chromedp.CSS {
			return chromedp.CSS(fmt.Sprintf(`.drawing a[href*="%s=%s"]`, key, name))
		}
		s.turn("take "+pair[0], chromedp.ScrollIntoView(pin("lead", pair[0]+"&")), chromedp.Tap(pin("lead", pair[0]+"&")))
		s.ask(`(() => {
			window.times = null;
			addEventListener('pointerdown', () => { window.down = performance.now(); }, {capture: true, once: true});
			new MutationObserver((_, self) => {
				self.disconnect();
				const put = performance.now();
				requestAnimationFrame(() => requestAnimationFrame(() => { window.times = [put - window.down, performance.now() - window.down]; }));
			}).observe(document.querySelector('main'), {childList: true});
			return '';
		})()`)
		s.turn("put it on "+pair[1], chromedp.ScrollIntoView(pin("with", pair[1])), chromedp.Tap(pin("with", pair[1])))
		var put, seen float64
		for {
			if v := s.ask(`window.times ? window.times.join(' ') : ''`); v != "" {
				if _, err := fmt.Sscan(v, &put, &seen); err != nil {
					t.Fatal(err)
				}
				break
			}
		}
		if at := s.ask("location.search"); !strings.Contains(at, "lead="+pair[0]) || !strings.Contains(at, "with="+pair[1]) {
			t.Errorf("it shows %s", at)
		}
		took, drawn = append(took, put), append(drawn, seen)
	}
	slices.Sort(took)
	slices.Sort(drawn)
	ms := func(x float64) string { return strconv.FormatFloat(x, 'f', 0, 64) + " ms" }
	t.Logf("from touch to the new page in place: shortest %s, middle %s, longest %s; to the second frame after: middle %s, longest %s", ms(took[0]), ms(took[len(took)/2]), ms(took[len(took)-1]), ms(drawn[len(drawn)/2]), ms(drawn[len(drawn)-1]))
}
