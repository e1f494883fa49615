// Fills in a form with the engine of the ODK validator that pyxform brings along: reads lines "name value" from standard
// input and prints, for each, "name ok", "name refused", "name required" or "name not asked"; "? name" prints a value.

import java.io.BufferedReader;
import java.io.FileInputStream;
import java.io.InputStreamReader;
import java.nio.charset.StandardCharsets;
import org.javarosa.core.model.FormDef;
import org.javarosa.core.model.FormIndex;
import org.javarosa.core.model.QuestionDef;
import org.javarosa.core.model.data.IAnswerData;
import org.javarosa.core.model.instance.AbstractTreeElement;
import org.javarosa.core.model.instance.TreeElement;
import org.javarosa.form.api.FormEntryController;
import org.javarosa.form.api.FormEntryModel;
import org.javarosa.model.xform.XFormsModule;
import org.javarosa.xform.util.XFormAnswerDataParser;
import org.javarosa.xform.util.XFormUtils;

public class Answers {
    private final FormDef form;
    private final FormEntryModel model;
    private final FormEntryController controller;

    Answers(String path) throws Exception {
        new XFormsModule().registerModule();
        form = XFormUtils.getFormFromInputStream(new FileInputStream(path));
        form.initialize(true, new org.javarosa.core.model.instance.InstanceInitializationFactory());
        model = new FormEntryModel(form);
        controller = new FormEntryController(model);
        for (FormIndex at = FormIndex.createBeginningOfFormIndex(); !at.isEndOfFormIndex(); at = model.incrementIndex(at)) {
            if (model.getEvent(at) == FormEntryController.EVENT_PROMPT_NEW_REPEAT && at.getInstanceIndex() == 0) {
                form.createNewRepeat(at);
            }
        }
    }

    FormIndex find(String name) {
        for (FormIndex at = FormIndex.createBeginningOfFormIndex(); !at.isEndOfFormIndex(); at = model.incrementIndex(at)) {
            if (model.getEvent(at) == FormEntryController.EVENT_QUESTION && at.getReference().getNameLast().equals(name)) {
                return at;
            }
        }
        throw new IllegalArgumentException("no question " + name);
    }

    String answer(String name, String text) {
        FormIndex at = find(name);
        if (!model.isIndexRelevant(at)) {
            return name + " not asked";
        }
        TreeElement node = form.getMainInstance().resolveReference(at.getReference());
        QuestionDef question = model.getQuestionPrompt(at).getQuestion();
        IAnswerData data = text.isEmpty() ? null : XFormAnswerDataParser.getAnswerData(text, node.getDataType(), question);
        switch (controller.answerQuestion(at, data, false)) {
            case FormEntryController.ANSWER_OK:
                return name + " ok";
            case FormEntryController.ANSWER_CONSTRAINT_VIOLATED:
                return name + " refused";
            default:
                return name + " required";
        }
    }

    String value(AbstractTreeElement node, String name) {
        for (int i = 0; i < node.getNumChildren(); i++) {
            AbstractTreeElement child = node.getChildAt(i);
            if (child.getName().equals(name) && child instanceof TreeElement) {
                IAnswerData data = ((TreeElement) child).getValue();
                return data == null ? "" : data.uncast().getString();
            }
        }
        return "?";
    }

    public static void main(String[] args) throws Exception {
        Answers filled = new Answers(args[0]);
        BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8));
        java.io.PrintStream out = new java.io.PrintStream(System.out, true, StandardCharsets.UTF_8);
        for (String line = in.readLine(); line != null; line = in.readLine()) {
            String[] parts = line.split(" ", 2);
            if (parts[0].equals("?")) {
                out.println(parts[1] + " = " + filled.value(filled.form.getMainInstance().getRoot(), parts[1]));
            } else {
                out.println(filled.answer(parts[0], parts[1]));
            }
        }
    }
}
